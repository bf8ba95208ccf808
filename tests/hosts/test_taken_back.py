"""What a run has changed of a film is taken back: the film is then what it was, in any layout."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from lxml import etree

import mltassist
from mltassist.checking import check
from mltassist.errors import ProjectError
from mltassist.joins.freedom import freedom
from mltassist.passed.clearing import CROWDED
from mltassist.project import Project
from mltassist.timeline.edits import (
    AddMarker,
    AddTrack,
    Edit,
    LayNatural,
    LayShot,
    LayTone,
    LayUnder,
    NudgeJoin,
    OpenPause,
    SetFilmGain,
    SetLevelCurve,
)
from mltassist.timeline.model import Clip, Timeline
from tests.hosts.films import BOAT, WAVES
from tests.hosts.generations import GENERATIONS
from tests.hosts.random_films import films
from tests.hosts.test_any_join import joins
from tests.hosts.written import WHY, saved, write_generation
from tests.passes import Pass


def film_of(timeline: Timeline) -> dict[str, Any]:
    """All that an editor sees of a film."""
    return {
        "tracks": timeline.tracks,
        "blends": timeline.blends,
        "markers": timeline.markers,
        "levels": timeline.levels,
        "length": timeline.length,
        "linked": {frozenset(pair) for pair in timeline.linked},
    }


def moves(timeline: Timeline, data: st.DataObject) -> Iterator[NudgeJoin]:
    """A move of one of the joins, as far as it is free to."""
    found = [edit for edit in joins(timeline) if not timeline.track(edit.track).ours]
    if not found:
        return
    edit = data.draw(st.sampled_from(found))
    free = freedom(timeline, edit)
    ways = [
        (before, after)
        for before in range(max(-5, free.before[0]), min(5, free.before[1]) + 1)
        for after in range(max(-5, free.after[0]), min(5, free.after[1]) + 1)
        if free.shift[0] <= before - after <= free.shift[1] and (before, after) != (0, 0) and not free.held
    ]
    if ways:
        before, after = data.draw(st.sampled_from(ways))
        yield NudgeJoin(edit.at, free.tracks, before, after, WHY)


def laid(timeline: Timeline, key: Callable[[str], str], data: st.DataObject) -> Iterator[Edit]:
    """What a pass lays besides: a shot, natural sound, a curve, a gain, a marker."""
    at = data.draw(st.integers(0, 200))
    yield LayShot(at, 20, key(BOAT.file), 3, WHY)
    yield LayNatural(data.draw(st.integers(0, 200)), 15, key(WAVES.file), 9, WHY, lead=0, trail=4, fade_in=2)
    yield SetFilmGain(-3.0, WHY)
    yield AddMarker(at, "look", WHY)
    heard = [(t, c) for t in timeline.tracks if t.has_sound and not t.ours for c in t.clips()]
    plain = [(t, c) for t, c in heard if isinstance(c, Clip) and c.length > 3]
    if plain:
        track, clip = data.draw(st.sampled_from(plain))
        keys = ((clip.start, -6.0), (clip.start + 2, -12.0))
        yield SetLevelCurve(clip.start, track.index, keys, WHY, source=clip.source.key)


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=st.sampled_from(list(GENERATIONS)), film=films(), data=st.data())
def test_all_that_a_pass_does_is_taken_out_of_any_film(tmp_path, *, name, film, data):
    written = write_generation(name, tmp_path, film)
    before = now = saved(written.project())
    for kind in data.draw(st.lists(st.sampled_from(["join", "pause"]), max_size=3)):
        timeline = now.timeline
        if kind == "pause":
            at, by = data.draw(st.integers(0, 300)), data.draw(st.integers(1, 90))
            run_on = tuple(t.index for t in timeline.tracks if t.name == "Music" and data.draw(st.booleans()))
            now = now.with_edits([OpenPause(at, by, WHY, run_on)])
        else:
            now = now.with_edits(moves(timeline, data))
    try:
        now = now.with_edits(laid(now.timeline, written.key, data))
    except ProjectError:
        assume(False)  # a place that is taken
    passed = saved(now)
    plan = mltassist.clear(passed)
    told = {note.text for note in plan.notes if note.needs_editor}
    assume(CROWDED not in told)  # a cut or a marker lies so near to a moved join that it is only told
    assert told == set()
    cleared = saved(plan.apply(passed))
    assert film_of(cleared.timeline) == film_of(before.timeline)
    assert cleared.timeline.changes == ()
    assert check(cleared, original=before) == ()


@pytest.mark.parametrize("name", ["kdenlive 0.96", "kdenlive 1.04", "kdenlive 1.1", "shotcut 25.12"])
def test_of_our_tracks_nothing_is_left_in_a_document_but_the_record(tmp_path, name: str) -> None:
    written = write_generation(name, tmp_path)
    before, key = saved(written.project()), written.key
    shots = [LayShot(30, 20, key(BOAT.file), 3, WHY, track) for track in ("cover", "alternatives")]
    sounds = (LayUnder(30, 20, key(BOAT.file), 3, WHY), LayTone(100, 10, key(WAVES.file), 3, WHY))
    passed = saved(before.with_edits([*shots, *sounds]))
    assert len(passed.timeline.tracks) == len(before.timeline.tracks) + 4
    cleared = saved(mltassist.clear(passed).apply(passed))
    texts = (etree.tostring(one.document.tree, method="c14n").decode() for one in (before, cleared))
    was, now = (Counter(text.splitlines()) for text in texts)
    assert not was - now
    assert [line for line in now - was if "mltassist" not in line] == []


def test_a_track_of_ours_with_a_clip_of_the_editor_stays(tmp_path) -> None:
    written = write_generation("kdenlive 1.1", tmp_path)
    passed = saved(written.project().with_edits([LayShot(30, 20, written.key(BOAT.file), 3, WHY)]))
    by_hand = saved(passed.with_edits([AddTrack("joins", WHY)]))
    for entry in by_hand.document.root.iter("entry"):
        if entry.get("in") == "00:00:00.120":
            entry.set("in", "00:00:00.160")  # a frame later
    left = mltassist.clear(by_hand).apply(by_hand).timeline
    assert [track.ours for track in left.tracks if track.ours] == ["cover"]


@pytest.mark.parametrize("name", ["saltreed.mlt", "saltreed.kdenlive", "saltreed-shotcut.mlt"])
def test_the_passed_example_is_cleared_to_what_it_was(passed: Callable[[str], Pass], name: str) -> None:
    made = passed(name)
    original, project = mltassist.open(made.original), mltassist.open(made.output)
    plan = mltassist.clear(project)
    assert plan.notes == ()
    cleared = plan.apply(project)
    assert film_of(cleared.timeline) == film_of(original.timeline)
    assert ends_of(cleared) == ends_of(original)


def ends_of(project: Project) -> list[str | None]:
    """Where every layered part ends, as the document tells."""
    return [part.get("out") for part in project.document.root.iter("tractor")]


def of_a_pause(project: Project) -> Project:
    """A film with a pause in it and natural sound in that."""
    waves = next(clip.source.key for clip in project.timeline.bin if clip.source.key.endswith("waves.mkv"))
    return project.with_edits([OpenPause(40, 30, WHY), LayNatural(40, 30, waves, 5, WHY)])


def test_a_part_is_taken_out_alone(tmp_path) -> None:
    written = write_generation("shotcut 25.12", tmp_path)
    before = saved(written.project())
    passed = of_a_pause(before).with_edits([AddMarker(10, "look", WHY)])
    cleared = mltassist.clear(passed, part=["pauses"]).apply(passed).timeline
    assert cleared.length == before.timeline.length
    assert [marker.at for marker in cleared.markers if marker.ours] == [10]
    assert (
        mltassist.clear(passed, part=["markers"]).apply(passed).timeline.length == before.timeline.length + 30
    )
    with pytest.raises(ProjectError, match="no part of our work is called 'titles'"):
        mltassist.clear(passed, part=["titles"])


def test_what_was_changed_by_hand_is_left_and_told(tmp_path) -> None:
    written = write_generation("shotcut 25.12", tmp_path)
    before = saved(written.project())
    nudge = next(edit for edit in joins(before.timeline) if edit.at == 80)
    passed = before.with_edits([NudgeJoin(80, (nudge.track,), 2, 0, WHY)])
    by_hand = passed.with_edits([NudgeJoin(82, (nudge.track,), -1, 0, WHY)])
    again = replace(by_hand)
    found = by_hand.timeline.changes
    assert len(found) == 2
    boat = next(clip.source.key for clip in before.timeline.bin if clip.source.key.endswith("boat.mkv"))
    paused = before.with_edits([OpenPause(40, 30, WHY)])
    filled = paused.with_edits([LayShot(45, 10, boat, 0, WHY)])
    plan = mltassist.clear(filled, part=["pauses"])
    (told,) = plan.notes[-1:]
    assert told.needs_editor
    assert told.text.startswith("the pause of 1.2 s that was opened here stays: ")
    assert plan.apply(filled).timeline.length == before.timeline.length + 30
    assert mltassist.clear(again).apply(again).timeline.length == before.timeline.length
