"""Any join of any small film in any layout, moved as far as it is free to: what moves and what stays."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from mltassist.checking import check
from mltassist.demofilm.film import Placement
from mltassist.errors import NoSuchPlace, TrackLocked
from mltassist.joins.freedom import Freedom, freedom
from mltassist.project import open_project
from mltassist.timeline.cuts import CutKind, SpeechEdit
from mltassist.timeline.edits import NudgeJoin
from mltassist.timeline.elements import Element
from mltassist.timeline.model import Clip, Timeline, TrackKind
from tests import referee
from tests.hosts.films import FILM, MUSIC, Row, rows
from tests.hosts.generations import GENERATIONS
from tests.hosts.random_films import films
from tests.hosts.written import WHY, editors, meant, saying, write_feature, write_generation


def joins(timeline: Timeline) -> list[SpeechEdit]:
    """Every place where two clips meet, as if both were speech."""
    return [
        SpeechEdit(b.start, track.index, CutKind.JUMP, False, 0, a, b, Element.INTERVIEW)
        for track in timeline.tracks
        for a, b in pairwise(track.items)
        if isinstance(a, Clip) and isinstance(b, Clip)
    ]


def goes_on(earlier: Row, later: Row) -> bool:
    """True for two clips that were one and were cut with nothing removed."""
    return (later.file, later.start, later.source_in) == (
        earlier.file,
        earlier.start + earlier.length,
        earlier.source_in + earlier.length,
    )


def nudged(clips: list[Row], edit: NudgeJoin, *, joined: bool) -> list[Row]:
    """The clips of one track as the edit must leave them."""
    result = []
    meets = any(clip.start == edit.at for clip in clips)
    played_on: Row | None = None
    for clip in clips:
        start, length, source_in = clip.start, clip.length, clip.source_in
        end = start + length
        if joined and end == edit.at:
            length += edit.before_by
        elif joined and start == edit.at:
            start, length = edit.at + edit.before_by, length - edit.after_by
            source_in += edit.after_by
        elif start >= edit.at:
            start += edit.shift
            if played_on is not None and goes_on(played_on, clip):
                source_in, played_on = source_in + edit.shift, clip
        elif end > edit.at or (end == edit.at and meets):
            length += edit.shift
            played_on = clip
        result.append(Row(start, length, clip.file, source_in))
    return result


def drawn(data: st.DataObject, free: Freedom, at: int) -> NudgeJoin:
    """Any move within the freedom, of at most a dozen frames."""
    pairs = [
        (before, after)
        for before in range(max(-12, free.before[0]), min(12, free.before[1]) + 1)
        for after in range(max(-12, free.after[0]), min(12, free.after[1]) + 1)
        if free.shift[0] <= before - after <= free.shift[1] and (before, after) != (0, 0)
    ]
    assume(pairs)
    before, after = data.draw(st.sampled_from(pairs))
    return NudgeJoin(at, free.tracks, before, after, WHY)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(name=st.sampled_from(list(GENERATIONS)), film=films(), data=st.data())
def test_a_join_moves_on_its_tracks_and_all_others_follow(tmp_path, *, name, film, data):
    written = write_generation(name, tmp_path, film)
    before = written.project()
    timeline = before.timeline
    found = joins(timeline)
    assume(found)
    cut = data.draw(st.sampled_from(found))
    free = freedom(timeline, cut)
    assert not free.held
    edit = drawn(data, free, cut.at)
    project = written.edited(edit)
    referee.check_names(project.document.root)
    assert check(project, original=before) == ()
    joined = [track.index in free.tracks for track in timeline.tracks if not track.ours]
    expected = [
        (track, kind, nudged(clips, edit, joined=own))
        for (track, kind, clips), own in zip(meant(name, film), joined, strict=True)
    ]
    assert editors(project.timeline) == expected
    marks = [g.at + edit.shift if g.at >= cut.at else g.at for g in timeline.markers]
    assert [marker.at for marker in project.timeline.markers] == sorted(marks)
    starts = {(t.index, clip.start) for t in project.timeline.tracks for clip in t.clips()}
    assert {place for pair in project.timeline.linked for place in pair} <= starts
    assert len(project.timeline.linked) == len(timeline.linked)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(name=st.sampled_from(list(GENERATIONS)), film=films(), data=st.data())
def test_moving_a_join_back_gives_the_film_again(tmp_path, *, name, film, data):
    written = write_generation(name, tmp_path, film)
    before = written.project()
    found = joins(before.timeline)
    assume(found)
    cut = data.draw(st.sampled_from(found))
    free = freedom(before.timeline, cut)
    others = [track for track in before.timeline.tracks if track.index not in free.tracks]
    edges = {frame for t in others for item in t.items for frame in (item.start, item.span.end)}
    assume(all(abs(edge - cut.at) > 12 for edge in edges))  # else the way back would find other neighbours
    edit = drawn(data, free, cut.at)
    back = NudgeJoin(edit.joined_at, edit.tracks, -edit.before_by, -edit.after_by, WHY)
    again = written.edited(edit, back).timeline
    assert editors(again) == editors(before.timeline)
    assert again.linked == before.timeline.linked


@pytest.mark.parametrize("shift", [4, -3])
@pytest.mark.parametrize("name", GENERATIONS)
def test_music_that_was_cut_with_nothing_removed_plays_on_past_a_moved_join(tmp_path, name, shift):
    """A cut behind the join would else repeat as many frames as the film becomes longer."""
    pieces = (Placement(MUSIC.file, 20, 0, 70), Placement(MUSIC.file, 90, 70, 60))
    last = Placement(MUSIC.file, 150, 130, 50)
    lanes = (
        replace(lane, placements=(*pieces, last)) if lane.name == "Music" else lane for lane in FILM.lanes
    )
    written = write_generation(name, tmp_path, replace(FILM, lanes=tuple(lanes)))
    timeline = written.project().timeline
    cut = next(cut for cut in joins(timeline) if cut.at == 80)
    free = freedom(timeline, cut)
    assert free.shift[1] == MUSIC.length - 180, "what the source holds beyond the last piece"
    edit = NudgeJoin(80, free.tracks, shift, 0, WHY)
    index = written.index("Music", TrackKind.SOUND)
    after = written.edited(edit).timeline
    assert [(row.start, row.length, row.source_in) for row in rows(after.track(index))] == [
        (20, 70 + shift, 0),
        (90 + shift, 60, 70 + shift),
        (150 + shift, 50, 130 + shift),
    ]


@pytest.mark.parametrize("name", GENERATIONS)
def test_frames_that_a_source_does_not_have_are_refused(tmp_path, name):
    written = write_generation(name, tmp_path)
    timeline = written.project().timeline
    cut = joins(timeline)[0]
    free = freedom(timeline, cut)
    assert free.before[1] == timeline.track(cut.track).items[0].source.length - 90
    with pytest.raises(NoSuchPlace, match="mend this join by hand"):
        written.edited(NudgeJoin(cut.at, free.tracks, free.before[1] + 1, 0, WHY))
    with pytest.raises(NoSuchPlace, match="no two clips meet"):
        written.edited(NudgeJoin(cut.at + 1, free.tracks, 1, 1, WHY))


def test_a_locked_track_holds_what_would_move_it(tmp_path):
    written = write_generation(list(GENERATIONS)[-1], tmp_path)
    timeline = written.project().timeline
    cut = joins(timeline)[0]
    music = next(track for track in timeline.tracks if track.name == "Music")
    tracks = tuple(replace(t, locked=t.index == music.index) for t in timeline.tracks)
    free = freedom(replace(timeline, tracks=tracks), cut)
    assert free.shift == (0, 0)
    assert free.before[1] > 0
    own = tuple(replace(t, locked=t.index == cut.track) for t in timeline.tracks)
    assert (
        freedom(replace(timeline, tracks=own), cut).held
        == f"track {timeline.track(cut.track).name!r} is locked"
    )


@pytest.mark.parametrize("name", [name for name in saying("locked") if "old" not in name])
def test_a_document_with_a_locked_track_refuses_what_would_move_it(tmp_path, name):
    project = open_project(write_feature(name, tmp_path))
    locked = next(track for track in project.timeline.tracks if track.locked and track.end)
    cut = next((cut for cut in joins(project.timeline) if cut.track != locked.index), None)
    if cut is None or locked.end <= cut.at:
        cut = next(cut for cut in joins(project.timeline) if cut.track == locked.index)
    with pytest.raises(TrackLocked, match="unlock it first"):
        project.with_edits([NudgeJoin(cut.at, (cut.track,), -1, 0, WHY)])
