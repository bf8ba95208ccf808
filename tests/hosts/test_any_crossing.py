"""Any join of sound in any layout can cross over, and is as it was once that is cleared."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from mltassist.checking import check
from mltassist.demofilm.film import Lane, Placement
from mltassist.errors import NoSuchPlace
from mltassist.plans import Plan
from mltassist.timeline.edits import ClearOurs, FadeJoin, LayTone, OpenPause
from mltassist.timeline.model import Clip, SourceKind, Timeline, Track
from tests import referee
from tests.hosts.films import FILM, TALK
from tests.hosts.generations import GENERATIONS
from tests.hosts.random_films import films
from tests.hosts.written import WHY, editors, write_generation


def crossings(timeline: Timeline) -> list[tuple[Track, Clip, Clip]]:
    """Every place where two clips of sound meet, and both have the frames for it."""
    return [
        (track, a, b)
        for track in timeline.tracks
        if track.has_sound and not track.locked
        for a, b in pairwise(track.items)
        if isinstance(a, Clip) and isinstance(b, Clip)
        if a.length >= 2 and b.source_in >= 2 and a.plays_sound and b.plays_sound
        if a.source.kind is b.source.kind is SourceKind.FILE and a.plain_speed and b.plain_speed
    ]


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(name=st.sampled_from(list(GENERATIONS)), film=films(), data=st.data())
def test_a_join_crosses_over_and_back(tmp_path, *, name, film, data):
    written = write_generation(name, tmp_path, film)
    before = written.project()
    found = crossings(before.timeline)
    assume(found)
    track, _, incoming = data.draw(st.sampled_from(found))
    at, first = incoming.start, incoming.source_in
    edit = FadeJoin(at, track.index, incoming.source.key, first, WHY, -3.0)
    project = written.edited(edit)
    referee.check_names(project.document.root)
    assert check(project, original=before) == ()
    assert editors(project.timeline) == editors(before.timeline)
    ours = project.timeline.of_role("joins")
    assert ours is not None
    (head,) = ours.clips()
    assert (head.start, head.length, head.source_in) == (at - 2, 2, first - 2)
    assert [(k.frame, k.gain_db) for curve in head.levels for k in curve.keys] == [
        (at - 2, -60),
        (at - 1, -3),
    ]
    tracks = [t for t in project.timeline.tracks if not t.ours]
    was = [t for t in before.timeline.tracks if not t.ours].index(track)
    faded = next(clip for clip in tracks[was].clips() if clip.span.end == at)
    (fade,) = (curve for curve in faded.levels if curve.ours)
    assert [(k.frame, k.gain_db) for k in fade.keys] == [(at - 2, 0), (at - 1, -60)]
    assert sum(curve.ours for t in tracks for clip in t.clips() for curve in clip.levels) == 1
    back = written.edited(edit, ClearOurs("joins", WHY)).timeline
    assert editors(back) == editors(before.timeline)
    assert not any(curve.ours for t in back.tracks for clip in t.clips() for curve in clip.levels)


@pytest.mark.parametrize("name", GENERATIONS)
def test_a_tone_lies_where_it_is_laid_and_a_join_that_is_none_is_refused(tmp_path, name):
    written = write_generation(name, tmp_path)
    track, _, incoming = crossings(written.project().timeline)[0]
    tone = LayTone(incoming.start - 2, 9, incoming.source.key, 5, WHY, -2.0, 1, 1)
    laid = written.edited(tone).timeline.of_role("joins")
    assert laid is not None
    assert [(c.start, c.length, c.source_in) for c in laid.clips()] == [(incoming.start - 2, 9, 5)]
    with pytest.raises(NoSuchPlace, match="no clip ends"):
        written.edited(FadeJoin(incoming.start + 1, track.index, incoming.source.key, 9, WHY))


@pytest.mark.parametrize("name", GENERATIONS)
def test_crossings_find_their_joins_where_the_first_of_them_is_left_out(tmp_path, name):
    talk = Lane("Interview", True, True, tuple(Placement(TALK.file, at, at + 10, 40) for at in (0, 40, 80)))
    before = write_generation(name, tmp_path, replace(FILM, lanes=(talk, *FILM.lanes[1:]))).project()
    found = crossings(before.timeline)
    first, second = (FadeJoin(b.start, t.index, b.source.key, b.source_in, WHY) for t, _, b in found)
    # The first adds our track: from then on the others are counted otherwise.
    after = before.with_edits([first]).timeline.tracks
    later = replace(second, track=next(t.index for t in after if t.name == "Interview" and t.has_sound))
    plan = Plan("rough", Path("film"), before.timeline.rate, (first, later))
    whole, kept = (p.apply(before).timeline for p in (plan, plan.keep(lambda edit: edit != first)))
    for made, places in ((whole, [first.at, second.at]), (kept, [second.at])):
        faded = [(t, c) for t in made.tracks if not t.ours for c in t.clips() if c.levels]
        assert [clip.span.end for _, clip in faded] == places
        assert all(track.has_sound for track, _ in faded)


@pytest.mark.parametrize("name", GENERATIONS)
def test_the_music_runs_on_through_a_pause_though_the_crossing_before_it_is_left_out(tmp_path, name):
    before = write_generation(name, tmp_path).project()
    track, _, incoming = crossings(before.timeline)[0]
    cross = FadeJoin(incoming.start, track.index, incoming.source.key, incoming.source_in, WHY)
    crossed = before.with_edits([cross]).timeline
    music = next(track.index for track in crossed.tracks if track.name == "Music")
    plan = Plan("rough", Path("film"), before.timeline.rate, (cross, OpenPause(40, 25, WHY, (music,))))
    whole, kept = (p.apply(before).timeline for p in (plan, plan.keep(lambda edit: edit != cross)))
    assert editors(kept) == editors(whole)
