"""Markers and groups that nobody can read: as if they were not there, left as they are, never a stop."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from lxml import etree

from mltassist.checking import check
from mltassist.document import properties
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.plans import unmoved_subtitles
from mltassist.project import Project, open_project
from mltassist.timeline.edits import AddMarker, ClearOurs, LayNatural, LayShot, OpenPause
from tests.hosts.films import BOAT, WAVES
from tests.hosts.written import WHY, saved, write_feature, write_generation

DEEP = "[" * 3000 + "]" * 3000
NESTED = '[{"type":"Normal","children":' * 40 + "[]" + "}]" * 40
UNREADABLE = (
    '{"a":1}',
    "3",
    '"text"',
    "not JSON",
    DEEP,
    NESTED,
    '[{"pos":Infinity}]',
    '[{"pos":1e999}]',
    "null",
)
STORED = {
    "kdenlive 1.1": ("kdenlive:sequenceproperties.guides", "kdenlive:sequenceproperties.groups"),
    "kdenlive 1": ("kdenlive:docproperties.guides", "kdenlive:docproperties.groups"),
    "kdenlive 0.96": ("", "kdenlive:clipgroups"),
}


def stored(project: Project, name: str, text: str | None = None) -> str:
    """The text of a property that one part of the document has, set first where one is given."""
    (found,) = [e for e in project.document.root.iter("property") if e.get("name") == name]
    holder = found.getparent()
    assert holder is not None
    if text is not None:
        properties.put(holder, name, text)
    return properties.get(holder, name) or ""


def edited(project: Project) -> Project:
    """A pause, a cutaway, natural sound and a marker; cleared in part and made again."""
    boat, waves = (str(project.path.parent / rush.file) for rush in (BOAT, WAVES))
    return project.with_edits(
        [
            OpenPause(40, 25, WHY),
            LayShot(100, 20, boat, 12, WHY),
            LayNatural(40, 20, waves, 30, WHY, lead=2, trail=3),
            AddMarker(42, "look", WHY),
            ClearOurs("natural", WHY),
            ClearOurs("markers", WHY),
        ]
    )


@pytest.mark.parametrize("text", UNREADABLE)
@pytest.mark.parametrize("what", [0, 1])
@pytest.mark.parametrize("name", STORED)
def test_a_list_that_cannot_be_read_stays_as_it_is(name: str, what: int, text: str, tmp_path: Path):
    if not STORED[name][what]:
        return
    original = write_generation(name, tmp_path).project()
    stored(original, STORED[name][what], text)
    project = saved(original)
    timeline = project.timeline
    assert (timeline.linked if what else timeline.markers) == ()
    changed = edited(project)
    assert stored(saved(changed), STORED[name][what]) == text
    notes = [note.text for note in unmoved_subtitles(changed)]
    assert len(notes) == 1
    assert "cannot be read" in notes[0]
    assert check(changed) == check(project)


FOREIGN_ITEMS = [
    3, None, "x", [], [[1]], {}, {"pos": "7"}, {"pos": 2.5, "comment": "half"}, {"pos": True}, {"pos": None}
]  # fmt: skip


@pytest.mark.parametrize("name", ["kdenlive 1", "kdenlive 1.1"])
def test_what_is_no_marker_among_markers_stays_in_its_place(name: str, tmp_path: Path):
    written = write_generation(name, tmp_path)
    original, key = written.project(), STORED[name][0]
    odd = {"pos": 60, "type": ["unhashable"], "comment": {"no": "text"}, "further": [1, {"a": None}]}
    items = [*FOREIGN_ITEMS, *json.loads(stored(original, key)), odd]
    stored(original, key, json.dumps(items))
    project = saved(original)
    assert {60} | {g.at for g in written.project().timeline.markers} == {
        g.at for g in project.timeline.markers
    }
    after = json.loads(stored(saved(edited(project)), key))
    assert after[: len(FOREIGN_ITEMS)] == FOREIGN_ITEMS
    assert after[-1] == odd | {"pos": 85}
    assert [type(item) for item in after] == [type(item) for item in items]


@pytest.mark.parametrize("name", ["kdenlive 1", "kdenlive 1.1"])
def test_what_is_no_group_among_groups_stays_in_its_place(name: str, tmp_path: Path):
    written = write_generation(name, tmp_path)
    original, key = written.project(), STORED[name][1]
    foreign = [
        5,
        {"type": "Normal", "children": 3},
        {"type": ["x"], "children": [1, 2, None]},
        {"type": "Leaf", "data": "x:y"},
        {"type": "Leaf", "data": ["1", 2]},
        {"type": "Normal"},
    ]
    known = json.loads(stored(original, key))
    stored(original, key, json.dumps([*foreign, *known]))
    project = saved(original)
    assert project.timeline.linked == written.project().timeline.linked
    after = json.loads(stored(saved(edited(project)), key))
    assert after[: len(foreign)] == foreign
    assert len(after) >= len(foreign) + len(known)


def test_groups_in_xml_keep_what_is_foreign_to_them(tmp_path: Path):
    original = write_generation("kdenlive 0.96", tmp_path).project()
    text = (
        '<groups made="by hand">\n <group name="a"><clipitem track="x" position="80"/>'
        '<clipitem position="80" track="3" more="1"/></group>\n <!-- kept --><other/>\n</groups>'
    )
    stored(original, STORED["kdenlive 0.96"][1], text)
    project = saved(original)
    after = stored(saved(project.with_edits([OpenPause(40, 25, WHY)])), STORED["kdenlive 0.96"][1])
    assert after == text.replace('position="80" track="3"', 'position="105" track="3"')


def test_markers_of_shotcut_without_a_place_stay(tmp_path: Path):
    original = write_generation("shotcut 25.12", tmp_path).project()
    parts = Parts(original.document)
    timeline = main_timeline(original.host, parts)
    (holder,) = [e for e in timeline.iterchildren("properties") if e.get("name") == "shotcut:markers"]
    for start in ("xx", None, "-5"):
        item = etree.SubElement(holder, "properties", name="²")
        properties.put(item, "text", "nowhere")
        if start is not None:
            properties.put(item, "start", start)
    project = saved(original)
    assert "nowhere" not in {marker.text for marker in project.timeline.markers}
    after = saved(edited(project))
    starts = [
        properties.get(e, "start")
        for e in after.document.root.iter("properties")
        if properties.get(e, "text") == "nowhere"
    ]
    assert starts == ["xx", None, "-5"]


def test_subtitle_lists_of_any_kind_are_borne(tmp_path: Path):
    original = open_project(write_feature("kdenlive 1.1 subtitles", tmp_path))
    name = "kdenlive:sequenceproperties.subtitlesList"
    (item,) = json.loads(stored(original, name))
    stored(original, name, json.dumps([7, item, None]))
    project = saved(original)
    assert len(project.timeline.subtitles) == 1
    after = json.loads(stored(saved(project.with_edits([OpenPause(10, 50, WHY)])), name))
    assert [after[0], after[2]] == [7, None]
    assert after[1] | {"file": ""} == item | {"file": ""}
