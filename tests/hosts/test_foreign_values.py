"""Values of a document that nobody can read are told of and left as they are; nothing else stops for them."""

from __future__ import annotations

from pathlib import Path

import pytest
from lxml import etree

from mltassist.document import properties
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.plans import unmoved_subtitles
from mltassist.project import Project
from mltassist.timeline.edits import NudgeJoin, OpenPause
from tests.hosts.written import WHY, Written, rows, saved, write_generation

FOREIGN = ("0=1;a=2", "00:00:xx=3;0=1", "0=0;1/2=x;50=9")
NAMES = ("kdenlive 0.96", "kdenlive 1.1", "shotcut 25.12")


def with_filters(written: Written, foreign: str) -> Project:
    """The project with a filter on its first clip and one on everything, each with a value to move too."""
    project = written.project()
    parts = Parts(project.document)
    timeline = main_timeline(project.host, parts)
    strip = next(s for s in project.host.strips(parts, timeline) if s.name == "Interview" and s.has_sound)
    first = next(spot for spot in parts.spots(strip.playlists[0]) if not spot.is_blank)
    for home in (project.host.filter_home(parts, first.element), timeline):
        element = etree.SubElement(home, "filter", {"in": parts.write(10), "out": parts.write(89)})
        for name, value in (("mlt_service", "tint"), ("amount", foreign), ("other", "0=1;79=2")):
            properties.put(element, name, value)
    return saved(project)


def values(project: Project, name: str) -> list[str]:
    """All values of a property on the filters that were added."""
    added = [f for f in project.document.root.iter("filter") if properties.get(f, "mlt_service") == "tint"]
    return [properties.get(element, name) or "" for element in added]


@pytest.mark.parametrize("foreign", FOREIGN)
@pytest.mark.parametrize("name", NAMES)
def test_a_value_that_cannot_be_read_blocks_no_pause(name: str, foreign: str, tmp_path: Path):
    written = write_generation(name, tmp_path)
    project = with_filters(written, foreign)
    running = tuple(t.index for t in project.timeline.tracks if t.has_sound)
    changed = project.with_edits([OpenPause(40, 25, WHY, running)])
    opened = saved(changed)
    assert opened.timeline.length == project.timeline.length + 25
    assert set(values(opened, "amount")) == {foreign}
    assert all(text.count(";") == 3 for text in values(opened, "other"))  # held through the gap
    (note,) = unmoved_subtitles(changed)
    assert foreign in note.text
    assert "tint" in note.text
    assert note.needs_editor


@pytest.mark.parametrize("name", NAMES)
def test_nor_does_it_block_a_join_that_is_moved(name: str, tmp_path: Path):
    written = write_generation(name, tmp_path)
    project = with_filters(written, FOREIGN[0])
    tracks = tuple(t.index for t in project.timeline.tracks if 80 in {clip.start for clip in t.clips()})
    changed = project.with_edits([NudgeJoin(80, tracks, 3, 0, WHY)])
    assert set(values(changed, "amount")) == {FOREIGN[0]}
    assert FOREIGN[0] in "".join(changed.document.unmoved)


@pytest.mark.parametrize("name", NAMES)
def test_a_level_that_cannot_be_read_is_told_and_left_out(name: str, tmp_path: Path):
    written = write_generation(name, tmp_path)
    project = with_filters(written, FOREIGN[0])
    for element in project.document.root.iter("filter"):
        if properties.get(element, "mlt_service") == "tint":
            properties.put(element, "mlt_service", "volume")
            properties.put(element, "level", FOREIGN[0])
    timeline = saved(project).timeline
    (warning,) = timeline.warnings
    assert FOREIGN[0] in warning
    (curve,) = timeline.levels
    assert {key.gain_db for key in curve.keys} == {0.0}
    whole = [(t.name, t.kind, rows(t)) for t in timeline.tracks]
    assert whole == [(t.name, t.kind, rows(t)) for t in written.project().timeline.tracks]
