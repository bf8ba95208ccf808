"""Where things lie after an edit: the map of it agrees with what is read again from the written document."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import product
from pathlib import Path

import pysubs2
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from mltassist.checking import check
from mltassist.demofilm.film import Film, Placement
from mltassist.errors import NoSuchPlace, TrackLocked
from mltassist.hosts import groups
from mltassist.hosts.base import OUR_TRACKS
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.joins.freedom import freedom
from mltassist.plans import Note, Plan
from mltassist.project import Project, open_project
from mltassist.timeline.edits import (
    EDITS,
    AddMarker,
    AddTrack,
    ClearOurs,
    ClosePause,
    Edit,
    FadeJoin,
    LayNatural,
    LayShot,
    LayTone,
    LayUnder,
    MarkClip,
    MatchLevel,
    NudgeJoin,
    OpenPause,
    SetFilmGain,
    SetLevelCurve,
)
from mltassist.timeline.model import Timeline, TrackKind
from mltassist.timeline.moves import Moves, moves_of
from mltassist.timeline.wholes import whole_clips
from tests.hosts.films import BOAT, FILM, MUSIC, WAVES
from tests.hosts.generations import FEATURES, GENERATIONS
from tests.hosts.random_films import films
from tests.hosts.test_any_crossing import crossings
from tests.hosts.test_any_join import drawn, joins
from tests.hosts.written import WHY, Written, saved, write_feature, write_generation

KDENLIVE = [name for name in GENERATIONS if name.startswith("kdenlive")]


def cut_music(*ends: int, spare: int) -> Film:
    """The film with its music cut at these frames with nothing removed; its source lasts `spare` longer."""
    first = MUSIC.length - (ends[-1] - 20) - spare
    starts = (20, *ends[:-1])
    pieces = tuple(Placement(MUSIC.file, a, first + a - 20, b - a) for a, b in zip(starts, ends, strict=True))
    lanes = (replace(lane, placements=pieces) if lane.name == "Music" else lane for lane in FILM.lanes)
    return replace(FILM, lanes=tuple(lanes))


def with_groups(written: Written, *pairs: tuple[tuple[int, int], ...]) -> Project:
    """The document with clips, each as (track, start), in groups."""
    project = written.project()
    parts = Parts(project.document)
    for clips in pairs:
        groups.link(project.host, parts, main_timeline(project.host, parts), clips)
    return saved(project)


def grouped(project: Project) -> set[tuple[int, int]]:
    """All clips that groups name."""
    parts = Parts(project.document)
    return set(groups.grouped(project.host, parts, main_timeline(project.host, parts)))


@pytest.mark.parametrize("at", [40, 90])
@pytest.mark.parametrize("name", KDENLIVE)
def test_groups_follow_music_that_has_fewer_frames_than_the_pause(tmp_path: Path, name: str, at: int) -> None:
    written = write_generation(name, tmp_path, cut_music(90, 150, 190, spare=10))
    music = written.index("Music", TrackKind.SOUND)
    boat = written.index("Cutaways", TrackKind.PICTURE)
    before = with_groups(written, ((music, 150), (boat, 150)), ((music, 20), (music, 90)))
    after = saved(before.with_edits([OpenPause(at, 25, WHY, (music,))]))
    assert check(after, original=before) == ()
    later = 90 if at == 90 else 100  # cut there, the second piece plays on and the first ends where it did
    assert grouped(after) >= {(music, 160), (boat, 175), (music, 20), (music, later)}


# --- any edit of any film -------------------------------------------------------------------------


@st.composite
def cut_films(draw: st.DrawFn) -> Film:
    """Any small film, its music often cut with nothing removed and with few frames to spare."""
    film, spare = draw(films()), draw(st.integers(0, 40))
    if draw(st.booleans()):
        return film
    ends = sorted(
        20 + at for at in draw(st.sets(st.integers(1, MUSIC.length - spare), min_size=1, max_size=4))
    )
    return replace(film, lanes=(*film.lanes[:-1], cut_music(*ends, spare=spare).lanes[-1]))


ELSEWHERE = (ClosePause, MarkClip)
"""Taking a pause back needs one (test_taken_back.py); a marker on a clip of the bin moves nothing."""


def any_edit(data: st.DataObject, written: Written, timeline: Timeline) -> Edit:
    """An edit of any kind that may be made on this timeline."""
    at, length = data.draw(st.integers(0, 220)), data.draw(st.integers(1, 40))
    boat, waves = written.key(BOAT.file), written.key(WAVES.file)
    kind = data.draw(st.sampled_from([kind for kind in EDITS if kind not in ELSEWHERE]))
    editors = replace(timeline, tracks=tuple(track for track in timeline.tracks if not track.ours))
    sound = [track.index for track in timeline.tracks if track.kind is TrackKind.SOUND]
    heard = [(t.index, c) for t in editors.tracks for c in t.clips() if c.plays_sound]
    crossed = [(track.index, clip) for track, _, clip in crossings(editors)]
    if kind is NudgeJoin:
        assume(joins(editors))
        cut = data.draw(st.sampled_from(joins(editors)))
        return drawn(data, freedom(timeline, cut), cut.at)
    if kind is MatchLevel:
        assume(heard)
        track, clip = data.draw(st.sampled_from(heard))
        return MatchLevel(clip.start, track, -3.0, WHY)
    if kind in (FadeJoin, SetLevelCurve):
        assume(crossed)
        track, clip = data.draw(st.sampled_from(crossed if kind is FadeJoin else heard))
        fade = FadeJoin(clip.start, track, clip.source.key, clip.source_in, WHY)
        return fade if kind is FadeJoin else SetLevelCurve(clip.start, track, ((clip.start, -9.0),), WHY)
    made: tuple[Edit, ...] = (
        ClearOurs(
            data.draw(st.sampled_from(("cover", "natural", "joins", "duck", "markers", "tracks"))), WHY
        ),
        AddTrack(data.draw(st.sampled_from(tuple(OUR_TRACKS))), WHY),
        LayShot(at, length, boat, 3, WHY, data.draw(st.sampled_from(("cover", "alternatives")))),
        LayNatural(at, length, waves, 9, WHY, lead=min(at, 3), trail=4),
        LayUnder(at, length, boat, 3, WHY),
        LayTone(at, length, waves, 3, WHY),
        OpenPause(at, length, WHY, tuple(n for n in sound if data.draw(st.booleans()))),
        SetFilmGain(-3.0, WHY),
        AddMarker(at, "look", WHY),
    )
    return next(edit for edit in made if type(edit) is kind)


def assert_found_again(moves: Moves, edits: tuple[Edit, ...], before: Project, after: Project) -> None:
    """Tracks, clips, markers, links and groups lie where the map has them."""
    cleared = {edit.what for edit in edits if isinstance(edit, ClearOurs)}
    was, now = before.timeline, after.timeline
    gone: set[tuple[int, int]] = set()
    for track in was.tracks:
        if track.ours and now.of_role(track.ours) is None:
            assert "tracks" in cleared
            gone |= {(track.index, clip.start) for clip in track.clips()}
            continue
        there = now.track(moves.track(track.index))
        assert (there.name, there.kind, there.ours) == (track.name, track.kind, track.ours)
        found = {clip.start: clip.source.key for clip in whole_clips(there)}
        for clip in whole_clips(track):
            if track.ours and OUR_TRACKS[track.ours].work in cleared:
                gone.add((track.index, clip.start))
            else:
                number, start = moves.clip(track.index, clip.start)
                assert (number, found.get(start)) == (there.index, clip.source.key)
    markers = Counter(
        (moves.frame(marker.at), marker.text)
        for marker in was.markers
        if not (marker.ours and "markers" in cleared)
    )
    assert markers <= Counter((marker.at, marker.text) for marker in now.markers)
    linked = {tuple(moves.clip(*place) for place in pair) for pair in was.linked if gone.isdisjoint(pair)}
    assert linked <= set(now.linked)
    assert {moves.clip(*place) for place in grouped(before) - gone} <= grouped(after)
    # Any two clips are paired here, also two of one source that are not in step.
    assert {fault.kind for fault in check(after, original=before)} <= {"step"}


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
@given(name=st.sampled_from(list(GENERATIONS)), film=cut_films(), data=st.data())
def test_what_edits_move_is_found_where_the_map_has_it(tmp_path, *, name, film, data):
    written = write_generation(name, tmp_path, film)
    clips = [(t.index, clip.start) for t in written.project().timeline.tracks for clip in t.clips()]
    pairs = data.draw(
        st.lists(st.tuples(*[st.sampled_from(clips)] * 2).filter(lambda p: p[0] != p[1]), max_size=2)
    )
    before = with_groups(written, *pairs)
    project, edits, moves = before, (), Moves()
    for _ in range(data.draw(st.integers(1, 3))):
        edit = any_edit(data, written, project.timeline)
        try:
            after = project.with_edits([edit])
        except NoSuchPlace:
            continue  # taken, or across a dissolve
        moves = moves.then(moves_of(edit, project.timeline, after.timeline))
        project, edits = after, (*edits, edit)
    assert_found_again(moves, edits, before, saved(before.with_edits(edits)))


def shown(timeline: Timeline, at: int) -> int | None:
    """The frame of the talk that the lowest picture shows at a frame; None where it shows nothing."""
    base = next(t for t in timeline.tracks if t.name == "Base" and t.kind is TrackKind.PICTURE)
    return next((clip.source_frame(at) for clip in base.clips() if at in clip.span), None)


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    name=st.sampled_from(list(GENERATIONS)),
    film=films(),
    pauses=st.lists(
        st.tuples(st.integers(0, 240), st.integers(1, 60), st.booleans()), min_size=1, max_size=3
    ),
    at=st.integers(0, 300),
)
def test_a_shot_lies_over_what_it_lay_over_where_pauses_are_left_out(tmp_path, *, name, film, pauses, at):
    written = write_generation(name, tmp_path, film)
    shot = LayShot(at, 1, written.key(BOAT.file), 3, WHY)
    edits = tuple(OpenPause(place, length, "kept" if kept else "left out") for place, length, kept in pauses)
    before = written.project()
    plan = Plan("rough", before.path, film.rate, (*edits, shot), (Note("here", at),))
    left = plan.keep(lambda edit: edit.reason != "left out")
    whole, part = (some.apply(before).timeline for some in (plan, left))
    cover = part.of_role("cover")
    opened = [edit.at for edit in left.edits if isinstance(edit, LayShot)]
    assert opened == [clip.start for track in (cover,) if track for clip in track.clips()]
    assert opened == [note.at for note in left.notes if note.text == "here"]
    if opened:
        assert shown(part, *opened) == shown(whole, at)
    else:  # it lay in a pause that is not opened
        assert shown(whole, at) is None


@pytest.mark.parametrize("name", FEATURES)
def test_whatever_a_document_holds_its_clips_are_found_where_the_map_has_them(
    tmp_path: Path, name: str
) -> None:
    before = open_project(write_feature(name, tmp_path))
    for at, running in product((75, 85, 100, 145, 160), (False, True)):
        edit = OpenPause(at, 30, WHY, tuple(t.index for t in before.timeline.tracks) if running else ())
        try:
            after = saved(before.with_edits([edit]))
        except (NoSuchPlace, TrackLocked):
            continue  # within a dissolve, or a track is locked
        assert_found_again(moves_of(edit, before.timeline), (edit,), before, after)


@pytest.mark.parametrize("kind", [OpenPause, NudgeJoin])
def test_subtitles_begin_where_the_map_has_their_frames(tmp_path: Path, kind: type[Edit]) -> None:
    path = write_feature("kdenlive 1.1 subtitles", tmp_path)
    frames = [10, 79, 80, 81, 120]
    lines = pysubs2.SSAFile()
    lines.events = [pysubs2.SSAEvent(start=frame * 40, end=frame * 40 + 40, text="?") for frame in frames]
    lines.save(str(path.with_name("film.kdenlive.ass")))
    before = open_project(path)
    cut = next(cut for cut in joins(before.timeline) if cut.at == 80)
    nudge = NudgeJoin(80, freedom(before.timeline, cut).tracks, -3, 2, WHY)
    edit = nudge if kind is NudgeJoin else OpenPause(80, 30, WHY)
    (side,) = saved(before.with_edits([edit])).timeline.subtitles
    starts = [line.start for line in pysubs2.load(str(side))]
    assert starts == [moves_of(edit).frame(frame) * 40 for frame in frames]


def test_markers_and_subtitles_in_a_pause_that_is_closed_lie_where_it_was(tmp_path: Path) -> None:
    """The map says so; what lay after the pause lies where it did before it."""
    path = write_feature("kdenlive 1.1 subtitles", tmp_path)
    opened = saved(open_project(path).with_edits([OpenPause(80, 30, WHY)]))
    side = opened.timeline.subtitles[0]
    lines = pysubs2.SSAFile()
    spans = [(70, 79), (70, 90), (85, 95), (109, 120), (115, 130)]
    lines.events = [pysubs2.SSAEvent(start=a * 40, end=b * 40, text="?") for a, b in spans]
    lines.save(str(side))
    texts = [f"mark {at}" for at, _ in spans]
    marked = open_project(opened.path).with_edits(
        AddMarker(at, text, WHY) for (at, _), text in zip(spans, texts, strict=True)
    )
    edit = ClosePause(80, 30, WHY)
    place = moves_of(edit).frame
    closed = saved(saved(marked).with_edits([edit]))
    found = {marker.text.removeprefix("mltassist: "): marker.at for marker in closed.timeline.markers}
    assert [found[text] for text in texts] == [place(at) for at, _ in spans] == [70, 70, 80, 80, 85]
    events = pysubs2.load(str(closed.timeline.subtitles[0])).events
    seen = [(event.start // 40, event.end // 40) for event in events]
    assert seen == [(70, 79), (70, 81), (80, 81), (80, 90), (85, 100)]


# --- music at another speed -----------------------------------------------------------------------

FAST_MUSIC = """<mlt><profile width="160" height="90" frame_rate_num="25" frame_rate_den="1"/>
<producer id="talk" in="0" out="399"><property name="length">400</property>
<property name="resource">{speed}:talk.mkv</property><property name="mlt_service">timewarp</property>
<property name="warp_speed">{speed}</property><property name="warp_resource">talk.mkv</property></producer>
<producer id="song" in="0" out="99"><property name="length">100</property>
<property name="resource">{speed}:song.wav</property><property name="mlt_service">timewarp</property>
<property name="warp_speed">{speed}</property><property name="warp_resource">song.wav</property></producer>
<playlist id="pictures"><entry producer="talk" in="0" out="299"/></playlist>
<playlist id="sound"><entry producer="song" in="10" out="49"/>
<entry producer="song" in="50" out="89"/></playlist>
<tractor id="film"><track producer="pictures"/><track producer="sound" hide="video"/></tractor></mlt>"""


@pytest.mark.parametrize(("speed", "left"), [("2", 10), ("-2", 10), ("-1", 10), ("0.5", 9)])
def test_music_at_another_speed_runs_on_as_far_as_the_map_says_and_back(
    tmp_path: Path, speed: str, left: int
) -> None:
    """Ten of the hundred frames are left; at half the speed the last may show one that is not there."""
    path = tmp_path / "film.mlt"
    path.write_text(FAST_MUSIC.format(speed=speed), "utf-8")
    before = open_project(path)
    pause = OpenPause(20, 25, WHY, (1,))
    after = before.with_edits([pause])
    pictures, sound = (
        [(clip.start, clip.length) for clip in track.clips()] for track in after.timeline.tracks
    )
    assert pictures == [(0, 20), (45, 280)]  # the lowest track is no background that grows with the film
    assert sound == [(0, 40 + left), (40 + left, 40)]
    assert moves_of(pause, before.timeline).clip(1, 40) == (1, 40 + left)
    closed = after.with_edits([ClosePause(20, 25, WHY)])
    assert [track.items for track in closed.timeline.tracks] == [t.items for t in before.timeline.tracks]
