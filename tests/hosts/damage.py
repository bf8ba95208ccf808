"""Documents of every layout with parts torn out and values made nonsense."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

from lxml import etree

import mltassist
from mltassist.checking import check
from mltassist.errors import MltAssistError
from mltassist.project import Project
from mltassist.timeline.edits import AddMarker, ClearOurs, LayShot, OpenPause
from tests.hosts import films
from tests.hosts.generations import FEATURES, GENERATIONS

NONSENSE = (
    *("", "-1", "abc", "99999999999", "00:00:xx", "-5", "1e9", "0=;", "NaN", "inf", "1/0", "="),
    *("{", "[1,2]", '[{"pos":"a"}]', '[{"type":"Leaf","data":"x:y"}]', "[[]]", '{"a":1}', "<groups>"),
    *("é\u2028", "00:99:99.999", "0=1;a=2", "9" * 30, "-00:00:01.000"),
    *("²", "٣", "1_0", "9" * 5000, "1e99999999", "0=1/0;50=1e99999999", "-Infinity", "1e-99999999", "0=nan"),
    *('[{"pos":NaN,"comment":"x"}]', '[{"pos":1e999}]', '[{"at":Infinity,"text":"x"}]', "[" * 100_000),
    *('[{"type":["x"],"pos":1}]', '[{"children":[1,2],"type":"Group"}]', '[{"children":3,"type":"AVSplit"}]'),
    *('[{"pos":' + "9" * 5000 + "}]", '[{"children":' * 900 + "[]" + "}]" * 900),
    *('{"laid":[[[],0,1,"x",2]],"curves":[[[Infinity,0]]]}', '{"laid":[["cover",NaN,1,"x",2]],"curves":3}'),
)
TAGS = ("entry", "blank", "property", "track", "tractor", "filter", "unknown")


def whole_documents() -> list[tuple[str, bytes]]:
    """One of each layout and feature: (suffix, text)."""
    writers = (*GENERATIONS.values(), *FEATURES.values())
    return [(writer.suffix, writer.write(films.FILM)) for writer in writers]


def damaged(data: bytes, dice: random.Random) -> bytes:
    """The document with one to four faults."""
    root = etree.fromstring(data, etree.XMLParser(recover=True))
    for _ in range(dice.choice((1, 1, 2, 4))):
        element = dice.choice(list(root.iter()))
        parent, chance = element.getparent(), dice.random()
        if chance < 0.2 and parent is not None:
            parent.remove(element)
        elif chance < 0.55 and element.attrib:
            element.set(dice.choice(list(element.attrib)), dice.choice(NONSENSE))
        elif chance < 0.62 and element.attrib:
            del element.attrib[dice.choice(list(element.attrib))]
        elif chance < 0.9:
            element.text = dice.choice(NONSENSE)
        elif parent is not None:
            element.tag = dice.choice(TAGS)
    return etree.tostring(root, xml_declaration=True, encoding="utf-8")


def use(path: Path, look: Callable[[Project, Path], object] | None = None) -> bool:
    """Read a document, change it in every way and write it; False where it is refused with a reason.

    look: shown the original and the new document before that is taken away.
    """
    out = path.with_name(f"out-{path.name}")
    try:
        project = mltassist.open(path)
        timeline = project.timeline
        mltassist.survey(project).as_dict()
        check(project)
        running = tuple(track.index for track in timeline.tracks if track.kind == "sound")
        edits = [
            ClearOurs("cover", "test"),
            ClearOurs("duck", "test"),
            OpenPause(timeline.length // 2, 10, "test", running),
            AddMarker(3, "look", "test"),
        ]
        changed = project.with_edits(edits)
        if timeline.bin:
            key = timeline.bin[0].source.key
            changed = changed.with_edits([LayShot(changed.timeline.length + 20, 10, key, 0, "test")])
        check(changed)
        changed.save(out, force=True)
    except MltAssistError:
        assert not out.exists(), "something was left half written"
        return False
    if look is not None:
        look(project, out)
    out.unlink()
    return True
