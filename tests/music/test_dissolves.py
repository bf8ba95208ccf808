"""Two pieces of music that dissolve into each other: under speech, and through a pause, as melt plays it.

The dissolve is written as each layout has it: two playlists whose clips overlap, or a small tractor between
two entries. It lies once where the music is already down, once across its ramp.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from lxml import etree

import mltassist
from mltassist.checking import check
from mltassist.demofilm.film import Film, Placement
from mltassist.demofilm.scenario import MUSIC_FILE
from mltassist.document import properties
from mltassist.errors import NoSuchPlace
from mltassist.frames import Span
from mltassist.media.sound.mix import gain_at, stem
from mltassist.timeline.edits import ClearOurs, OpenPause, SetLevelCurve
from mltassist.timeline.model import Clip, Dissolve, Timeline, Track
from mltassist.timeline.wholes import whole_clips
from tests import referee
from tests.cli.films import LAYOUTS, short, write
from tests.media.sound.test_mix_played import compared

pytestmark = pytest.mark.usefixtures("requires_melt")

END, FIRST, SECOND = 700, 100, 1500
UNDER, RAMP = (360, 13), (17, 4)
"""Middle and half length of the dissolve: far inside the passage, within the ramp before it."""


def clock(frame: int) -> str:
    return f"00:00:{frame // 25:02}.{frame % 25 * 40:03}"


def dissolving(layout: str, where: tuple[int, int], folder: Path) -> Path:
    """The first frames of the example, their music in two pieces that dissolve there."""
    at, half = where
    path = write(in_two(at), folder, layout)
    root = etree.parse(str(path)).getroot()
    parts = {part.get("id"): part for part in root}
    music = next(part for part in root.iter("playlist") if plays_music(part, parts))
    left, right = music.findall("entry")
    if right.get("producer") == left.get("producer"):
        # One part that plays in two places at once the engine would play beside the place.
        played = parts[left.get("producer")]
        copy = deepcopy(played)
        copy.set("id", "second_piece")
        played.addnext(copy)
        right.set("producer", "second_piece")
    timed = ":" in (left.get("in") or "")

    def ranged(element: etree._Element, first: int, last: int) -> etree._Element:
        for name, frame in (("in", first), ("out", last)):
            element.set(name, clock(frame) if timed else str(frame))
        return element

    mix = {"a_track": "0", "b_track": "1", "mlt_service": "mix", "start": "-1", "accepts_blanks": "1"}
    if layout.endswith(".kdenlive"):
        track = next(
            t for t in root.iter("tractor") if music.get("id") in [m.get("producer") for m in t.iter("track")]
        )
        other = parts[
            next(m.get("producer") for m in track.iter("track") if m.get("producer") != music.get("id"))
        ]
        ranged(left, FIRST, FIRST + at + half - 1)
        ranged(right, SECOND - half, SECOND + END - at - 1)
        etree.SubElement(other, "blank", length=clock(at - half))
        other.append(right)
        transition = ranged(etree.SubElement(track, "transition"), at - half, at + half - 1)
        mix |= {"kdenlive_id": "mix", "kdenlive:mixcut": str(half)}
    else:
        ranged(left, FIRST, FIRST + at - half - 1)
        ranged(right, SECOND + half, SECOND + END - at - 1)
        both = ranged(etree.Element("tractor", id="dissolve"), 0, 2 * half - 1)
        for entry, first in ((left, FIRST + at - half), (right, SECOND - half)):
            named = etree.SubElement(both, "track", producer=entry.get("producer") or "")
            ranged(named, first, first + 2 * half - 1)
        transition = ranged(etree.SubElement(both, "transition"), 0, 2 * half - 1)
        if layout.startswith("shotcut"):
            properties.put(both, "shotcut:transition", "lumaMix")
        music.addprevious(both)
        right.addprevious(ranged(etree.Element("entry", producer="dissolve"), 0, 2 * half - 1))
    for name, value in mix.items():
        properties.put(transition, name, value)
    path.write_bytes(etree.tostring(root, xml_declaration=True, encoding="utf-8"))
    return path


def in_two(at: int) -> Film:
    made = short(END)
    pieces = (Placement(MUSIC_FILE, 0, FIRST, at), Placement(MUSIC_FILE, at, SECOND, END - at))
    lanes = (replace(lane, placements=pieces) if lane.name == "Music" else lane for lane in made.lanes)
    return replace(made, lanes=tuple(lanes))


def plays_music(playlist: etree._Element, parts: dict[str | None, etree._Element]) -> bool:
    played = [parts.get(entry.get("producer")) for entry in playlist.findall("entry")]
    return len(played) == 2 and all(
        part is not None and (properties.get(part, "resource") or "").endswith("creek.m4a") for part in played
    )


def music_of(timeline: Timeline) -> Track:
    return next(track for track in timeline.tracks if track.name == "Music")


def heard(path: Path) -> np.ndarray:
    timeline = mltassist.open(path).timeline
    return referee.sound(path, last=timeline.length - 1, only_tracks={music_of(timeline).index})


def levels_db(sound: np.ndarray) -> np.ndarray:
    """Level of each frame."""
    power = np.square(sound, dtype=float).reshape(2, -1, 1920).mean(axis=(0, 2))
    return 10 * np.log10(np.maximum(power, 1e-12))


def depth_of(row: dict[str, Any]) -> float:
    """By how much the music goes down in a passage."""
    return next(beneath["depth_db"] for beneath in row["beneath"] if beneath["sound"] == "music")


@pytest.mark.parametrize(("layout", "where"), [("host.kdenlive", UNDER), *((name, RAMP) for name in LAYOUTS)])
def test_both_pieces_go_down_together(layout: str, where: tuple[int, int], tmp_path: Path) -> None:
    path, (at, half) = dissolving(layout, where, tmp_path), where
    project = mltassist.open(path)
    assert [type(item) for item in music_of(project.timeline).items] == [Clip, Dissolve, Clip]
    plan = mltassist.duck(project)
    curves = [edit for edit in plan.edits if isinstance(edit, SetLevelCurve)]
    assert [edit.at for edit in curves if "music" in edit.reason] == [0, at - half]
    made = plan.apply(project)
    assert check(made, original=project) == ()
    output = made.save(tmp_path / f"out{path.suffix}")
    rows = plan.figures["passages"]
    depths = {depth_of(row) for row in rows}
    assert max(depths) - min(depths) < 1.5  # one voice, one piece of music: no level jumps about
    before, after = heard(path), heard(output)
    change = levels_db(after) - levels_db(before)
    for row in rows:
        (music,) = (beneath for beneath in row["beneath"] if beneath["sound"] == "music")
        assert music["separation_after_lu"] == pytest.approx(15.0, abs=1)
        inside = change[row["at"] : row["at"] + row["length"] - 1]
        assert inside.max() < min(depth_of(row) + 0.25, max(depths) + 0.25)
        assert inside.min() > min(depths) - 0.25
    timeline = mltassist.open(output).timeline
    music = music_of(timeline)
    ours = stem([(music, clip) for clip in music.clips()], Span(0, timeline.length), timeline.rate)
    found = compared(ours, after)
    assert found.level_db < 0.1, found
    assert found.lag <= 1
    # The next run replaces the curves, and without them all is as it was.
    again = mltassist.open(output)
    assert mltassist.duck(again).apply(again).timeline.tracks == again.timeline.tracks
    assert again.with_edits([ClearOurs("duck", "")]).timeline.tracks == project.timeline.tracks


@pytest.mark.parametrize("layout", LAYOUTS)
def test_music_runs_on_through_a_pause_into_its_dissolve(layout: str, tmp_path: Path) -> None:
    at, half = UNDER
    path = dissolving(layout, UNDER, tmp_path)
    project = mltassist.open(path)
    plan = mltassist.pause(project, at=["f300"], length=Fraction(2))
    (opened,) = (edit for edit in plan.edits if isinstance(edit, OpenPause))
    assert music_of(project.timeline).index in opened.run_on
    output = plan.apply(project).save(tmp_path / f"out{path.suffix}")
    dissolve = next(i for i in music_of(mltassist.open(output).timeline).items if isinstance(i, Dissolve))
    assert dissolve.span == Span(at - half + 50, at + half + 50)
    assert dissolve.outgoing.source_in == FIRST + at - half + 50
    assert dissolve.incoming.source_in == SECOND - half
    before, after = heard(path), heard(output)
    # Up to the dissolve the first piece plays on as if nothing had been opened; then the second is as before.
    uncut = dissolving(layout, (at + 50, half), tmp_path)
    first = (at + 50 - half) * 1920
    assert np.abs(after[:, :first] - heard(uncut)[:, :first]).max() < 1e-3
    last = (at + half) * 1920
    assert np.abs(after[:, last + 50 * 1920 :] - before[:, last:]).max() < 1e-3


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    layout=st.sampled_from(sorted(LAYOUTS)),
    middle=st.integers(60, 600),
    half=st.integers(1, 20),
    at=st.integers(1, END - 1),
    by=st.integers(1, 80),
    running=st.booleans(),
)
@example(layout="shotcut.mlt", middle=360, half=13, at=347, by=25, running=True)
@example(layout="plain.mlt", middle=360, half=13, at=373, by=25, running=True)
@example(layout="plain.mlt", middle=60, half=1, at=59, by=1, running=False)
@example(layout="host.kdenlive", middle=60, half=1, at=59, by=1, running=False)
def test_a_pause_anywhere_leaves_a_dissolve_whole(
    tmp_path: Path, *, layout: str, middle: int, half: int, at: int, by: int, running: bool
) -> None:
    project = mltassist.open(dissolving(layout, (middle, half), tmp_path))
    music = music_of(project.timeline)
    edit = OpenPause(at, by, "", (music.index,) if running else ())
    left, right = Span(0, middle + half), Span(middle - half, END)
    if right.start < at < left.end:
        with pytest.raises(NoSuchPlace):
            project.with_edits([edit])
        return
    made = project.with_edits([edit])
    moved = [span.shifted(by) if span.start >= at else span for span in (left, right)]
    if running:
        expected = [Span(s.start, s.end + by) if s.start < at < s.end else s for s in moved]
    else:
        pieces = [
            (Span(s.start, at), Span(at + by, s.end + by)) if s.start < at < s.end else (s,) for s in moved
        ]
        expected = [span for parts in pieces for span in parts]
    found = [clip.span for clip in whole_clips(music_of(made.timeline))]
    assert found == expected
    assert check(made, original=project) == ()
    # Every curve finds its clip, and is read over all of it.
    curves = [
        SetLevelCurve(s.start, music.index, tuple({s.start: -3.0, s.end - 1: -9.0}.items()), "")
        for s in found
    ]
    for clip in music_of(made.with_edits(curves).timeline).clips():
        for frame in (clip.start, clip.span.end - 1):
            assert any(0.3 < gain_at(replace(clip, levels=(c,)), music, frame) < 0.72 for c in clip.levels)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_music_stays_down_in_a_dissolve_that_a_pause_moves(layout: str, tmp_path: Path) -> None:
    project = mltassist.open(dissolving(layout, UNDER, tmp_path))
    plan = mltassist.duck(project)
    ducked = plan.apply(project)
    music = music_of(ducked.timeline)
    moved = music_of(ducked.with_edits([OpenPause(300, 50, "", (music.index,))]).timeline)
    depths = [depth_of(row) for row in plan.figures["passages"]]
    for clip in moved.clips():
        for frame in {max(clip.start, 40), clip.span.end - 1}:
            gain_db = 20 * np.log10(gain_at(clip, moved, frame))
            assert min(depths) - 0.1 < gain_db < max(depths) + 0.1
