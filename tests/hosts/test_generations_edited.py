"""Every edit in every layout of the hosts: what it should change changes, and nothing else."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import mltassist
from mltassist.checking import check
from mltassist.document import properties
from mltassist.frames import Span
from mltassist.hosts.kdenlive_lists import lists_of
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.media.sound.mix import curve_gain
from mltassist.project import Project
from mltassist.timeline.edits import (
    AddMarker,
    ClearOurs,
    Edit,
    LayNatural,
    LayShot,
    LayUnder,
    OpenPause,
    SetLevelCurve,
)
from mltassist.timeline.model import TrackKind
from mltassist.timeline.picture import showing
from tests import referee
from tests.hosts.films import BOAT, FILM, WAVES, opened, rows
from tests.hosts.generations import GENERATIONS
from tests.hosts.written import (
    RATES,
    WHY,
    Written,
    editors,
    hang_track_gain,
    meant,
    saved,
    track_named,
    write_feature,
    write_generation,
)

CLEAR_ALL = tuple(ClearOurs(what, WHY) for what in ("cover", "natural", "duck", "markers"))
PLACES = [
    pytest.param(40, 25, id="inside a clip"),
    pytest.param(80, 10, id="at an edit"),
    pytest.param(145, 30, id="inside a gap"),
    pytest.param(0, 50, id="at the very start"),
    pytest.param(100, 75, id="longer than the music's source"),
]


@pytest.fixture(params=GENERATIONS)
def written(request: pytest.FixtureRequest, tmp_path: Path) -> Written:
    return write_generation(request.param, tmp_path)


@pytest.fixture(params=RATES, ids=["25", "29.97"])
def timed(request: pytest.FixtureRequest, written: Written) -> Written:
    return write_generation(written.generation, written.path.parent, replace(FILM, rate=request.param))


def music(written: Written) -> int:
    return written.index("Music", TrackKind.SOUND)


def shot(written: Written, at: int = 70, length: int = 30) -> LayShot:
    return LayShot(at, length, written.key(BOAT.file), 12, WHY)


def natural(written: Written) -> LayNatural:
    return LayNatural(
        142, 15, written.key(WAVES.file), 30, WHY, lead=5, trail=8, gain_db=-3.0, fade_in=2, fade_out=3
    )


def curve(written: Written) -> SetLevelCurve:
    return SetLevelCurve(20, music(written), ((20, 0.0), (50, -18.0), (150, -18.0), (160, 0.0)), WHY)


def everything(written: Written) -> tuple[Edit, ...]:
    beside = (
        LayShot(70, 30, written.key(WAVES.file), 20, WHY, "alternatives"),
        LayUnder(70, 30, written.key(BOAT.file), 12, WHY, fade_in=3),
    )
    # The curve first: a new sound track may move the number of the music's.
    return curve(written), shot(written), *beside, natural(written), AddMarker(90, "look", WHY)


def assert_sound(project: Project, written: Written) -> None:
    referee.check_names(project.document.root)
    assert check(project, original=written.project()) == ()


def test_a_shot_is_laid_silent_on_a_track_of_ours(timed: Written):
    project = timed.edited(shot(timed))
    assert_sound(project, timed)
    timeline = project.timeline
    cover = timeline.of_role("cover")
    assert cover is not None
    assert rows(cover) == [(70, 30, BOAT.file, 12)]
    assert [(clip.plays_picture, clip.plays_sound) for clip in cover.clips()] == [(True, False)]
    assert cover.kind is TrackKind.PICTURE
    assert cover.index == max(track.index for track in timeline.tracks)
    assert editors(timeline) == meant(timed.generation, timed.film)
    assert timeline.changed_by_hand("cover") == ()
    assert {marker.at for marker in timeline.markers} == {
        marker.at for marker in timed.project().timeline.markers
    }


def test_natural_sound_comes_with_picture_and_fades(timed: Written):
    project = timed.edited(natural(timed))
    assert_sound(project, timed)
    timeline = project.timeline
    heard, seen = timeline.of_role("natural"), timeline.of_role("natural picture")
    assert heard is not None
    assert seen is not None
    assert rows(heard) == [(137, 28, WAVES.file, 25)]
    assert rows(seen) == [(142, 15, WAVES.file, 30)]
    assert [(c.plays_picture, c.plays_sound) for c in (*heard.clips(), *seen.clips())] == [
        (False, True),
        (True, False),
    ]
    (found,) = next(heard.clips()).levels
    assert [(k.frame, k.gain_db) for k in found.keys] == [(137, -60), (139, -3), (161, -3), (164, -60)]
    assert editors(timeline) == meant(timed.generation, timed.film)
    pair = frozenset({(seen.index, 142), (heard.index, 137)})
    before = {frozenset(pair) for pair in timed.project().timeline.linked}
    moved = {
        frozenset((track + (timeline.host == "kdenlive"), start) for track, start in pair) for pair in before
    }
    linked = {frozenset(pair) for pair in timeline.linked}
    assert linked - {pair} == moved
    if GENERATIONS[timed.generation].suffix == ".kdenlive" and len(timeline.tracks) == 6:
        assert pair in linked


def test_alternatives_are_stacked_hidden_right_above_the_cover(written: Written):
    other = LayShot(70, 30, written.key(WAVES.file), 20, WHY, "alternatives")
    # A track that has come in above the cover since does not part the two.
    project = saved(written.project().with_edits([shot(written), natural(written)]))
    number = {track.name: track.index for track in project.timeline.tracks}
    project = saved(project.with_edits([other]))
    assert_sound(project, written)
    timeline = project.timeline
    cover, stack = timeline.of_role("cover"), timeline.of_role("alternatives")
    assert cover is not None
    assert stack is not None
    assert (stack.hidden, stack.kind, stack.index) == (True, TrackKind.PICTURE, cover.index + 1)
    assert rows(stack) == [(70, 30, WAVES.file, 20)]
    assert [(clip.plays_picture, clip.plays_sound) for clip in stack.clips()] == [(True, False)]
    assert not cover.hidden
    assert rows(cover) == [(70, 30, BOAT.file, 12)]
    assert {t.name: t.index - (t.index > stack.index) for t in timeline.tracks if t is not stack} == number
    assert showing(timeline, ours=True) == showing(saved(project).timeline, ours=True)
    assert WAVES.file not in {
        Path(s.clip.source.key).name for s in showing(timeline, ours=True) if s.clip and 70 in s.span
    }
    assert editors(timeline) == meant(written.generation, FILM)
    # Switched on by the editor it is off again once an earlier cover has been cleared.
    seen = saved(project)
    parts = Parts(seen.document)
    strips = seen.host.strips(parts, main_timeline(seen.host, parts))
    strip = next(strip for strip in strips if strip.role == "alternatives")
    for mark in (strip.mark, *strip.holder.iter("track")):
        mark.attrib.pop("hide", None)
    seen = saved(seen)
    assert [track.hidden for track in seen.timeline.tracks if track.ours == "alternatives"] == [False]
    again = saved(seen.with_edits([ClearOurs("cover", WHY), shot(written), other])).timeline
    assert again.of_role("alternatives") == stack


def test_a_shots_own_sound_comes_with_fades_and_is_linked_to_it(written: Written):
    under = LayUnder(70, 30, written.key(BOAT.file), 12, WHY, gain_db=-9.5, fade_in=3, fade_out=4)
    project = written.edited(shot(written), under)
    assert_sound(project, written)
    timeline = project.timeline
    cover, heard = timeline.of_role("cover"), timeline.of_role("under")
    assert cover is not None
    assert heard is not None
    assert (heard.kind, heard.muted, heard.has_sound) == (TrackKind.SOUND, False, True)
    assert rows(heard) == rows(cover) == [(70, 30, BOAT.file, 12)]
    assert [(clip.plays_picture, clip.plays_sound) for clip in heard.clips()] == [(False, True)]
    (found,) = next(heard.clips()).levels
    assert [(k.frame, k.gain_db) for k in found.keys] == [(70, -60), (73, -9.5), (95, -9.5), (99, -60)]
    pairs = {frozenset(pair) for pair in timeline.linked}
    kdenlive = GENERATIONS[written.generation].suffix == ".kdenlive"
    assert (frozenset({(cover.index, 70), (heard.index, 70)}) in pairs) == kdenlive
    assert editors(timeline) == meant(written.generation, FILM)


@pytest.mark.parametrize(("at", "by"), PLACES)
@pytest.mark.parametrize("run_on", [True, False], ids=["music plays on", "music is split"])
def test_a_pause_moves_all_that_follows_by_its_length(written: Written, at: int, by: int, run_on: bool):
    project = written.edited(OpenPause(at, by, WHY, run_on=(music(written),) if run_on else ()))
    assert_sound(project, written)
    timeline = project.timeline
    assert editors(timeline) == [
        (name, kind, opened(clips, at, by, run_on=run_on and name == "Music"))
        for name, kind, clips in meant(written.generation, FILM)
    ]
    assert timeline.length == FILM.length + by
    markers = written.project().timeline.markers
    assert [(marker.at, marker.text) for marker in timeline.markers] == [
        (marker.at + by if marker.at >= at else marker.at, marker.text) for marker in markers
    ]


@pytest.mark.parametrize(("at", "by"), PLACES)
def test_linked_clips_stay_linked_through_a_pause(written: Written, at: int, by: int):
    project = written.edited(OpenPause(at, by, WHY))
    expected = set()
    for pair in written.project().timeline.linked:
        ((track, start), (other, _)) = pair
        clip = next(c for c in written.project().timeline.track(track).clips() if c.start == start)
        places = [start + by if start >= at else start]
        if start < at < clip.span.end:
            places.append(at + by)
        expected |= {frozenset({(track, place), (other, place)}) for place in places}
    assert {frozenset(pair) for pair in project.timeline.linked} == expected


def test_a_pause_after_the_end_changes_no_clip(written: Written):
    project = written.edited(OpenPause(FILM.length, 25, WHY))
    assert editors(project.timeline) == meant(written.generation, FILM)
    assert project.timeline.length == FILM.length


def test_our_own_clips_and_curves_move_with_a_pause(written: Written):
    project = written.edited(
        curve(written), shot(written), AddMarker(75, "look", WHY), OpenPause(60, 20, WHY, (music(written),))
    )
    assert_sound(project, written)
    timeline = project.timeline
    cover = timeline.of_role("cover")
    assert cover is not None
    assert rows(cover) == [(90, 30, BOAT.file, 12)]
    assert timeline.changed_by_hand("cover") == ()
    assert [marker.at for marker in timeline.markers if marker.ours] == [95]
    (found,) = next(track_named(timeline, "Music", TrackKind.SOUND).clips()).levels
    # The line is level where it is cut, so no key is added.
    assert [(k.frame, k.gain_db) for k in found.keys] == [(20, 0), (50, -18), (170, -18), (180, 0)]


def test_a_curve_is_read_as_it_was_set(timed: Written):
    first = SetLevelCurve(20, music(timed), ((20, 0.0), (50, -18.0)), WHY)
    second = replace(first, keys=((25, -1.5), (50, -18.25), (120, -18.25), (140, 0.0)))
    project = timed.edited(first, second)
    assert_sound(project, timed)
    (found,) = next(track_named(project.timeline, "Music", TrackKind.SOUND).clips()).levels
    assert found.ours
    assert tuple((key.frame, key.gain_db) for key in found.keys) == second.keys


def test_a_marker_is_added_and_known_as_ours(timed: Written):
    project = timed.edited(AddMarker(42, "check – é", WHY), AddMarker(42, "check – é", WHY))
    assert_sound(project, timed)
    markers = project.timeline.markers
    assert [(g.at, g.text) for g in markers if g.ours] == [(42, "mltassist: check – é")]
    assert [(g.at, g.text) for g in markers if not g.ours] == [
        (g.at, g.text) for g in timed.project().timeline.markers
    ]


def test_clearing_gives_the_timeline_of_before(timed: Written):
    before = timed.project().timeline
    project = timed.edited(*everything(timed), *CLEAR_ALL)
    assert_sound(project, timed)
    timeline = project.timeline
    assert not any(rows(track) for track in timeline.tracks if track.ours)
    kept = [replace(track, index=0) for track in timeline.tracks if not track.ours]
    assert kept == [replace(track, index=0) for track in before.tracks]
    assert (timeline.bin, timeline.markers, len(timeline.linked)) == (
        before.bin,
        before.markers,
        len(before.linked),
    )
    parts = [
        e for e in project.document.root.iter("producer", "chain") if properties.get(e, "mltassist:role")
    ]
    assert parts == []


def test_a_second_run_gives_what_the_first_gave(written: Written):
    once = written.edited(*everything(written))
    music_now = track_named(once.timeline, "Music", TrackKind.SOUND).index
    again = [
        replace(edit, track=music_now) if isinstance(edit, SetLevelCurve) else edit
        for edit in everything(written)
    ]
    first, twice = once.timeline, saved(once.with_edits((*CLEAR_ALL, *again))).timeline
    assert sorted(map(sorted, twice.linked)) == sorted(map(sorted, first.linked))
    assert replace(twice, linked=first.linked, path=first.path) == first


# --- curves on whole tracks -----------------------------------------------------------------------

KEYED = {
    "keys": ({"level": "0=0;30=-12;70=-3;199=-20"}, {}),
    "keys within limits": ({"level": "0=-6;100=-18"}, {"in_": "20", "out": "150"}),
    "steps": ({"level": "0|=-6;60|=-18;120=0"}, {}),
    "clock times": ({"level": "00:00:00.000=0;00:00:04.000=-12"}, {}),
    "an older fade": ({"gain": "0", "end": "1"}, {"in_": "20", "out": "120"}),
    "a steady level": ({"level": "-9"}, {"in_": "10", "out": "160"}),
    "a key just before": ({"level": "0=0;39=-10;90=-20"}, {}),
    "limits that end just before": ({"level": "0=0;19=-10"}, {"in_": "20", "out": "39"}),
}


@pytest.mark.parametrize("form", KEYED)
def test_a_tracks_gain_is_the_same_before_and_after_a_pause(written: Written, form: str):
    at, by, number = 40, 33, music(written)
    values, span = KEYED[form]
    project = written.project()
    hang_track_gain(project, number, values, **span)
    original = saved(project)
    (before,) = original.timeline.track(number).levels
    after = saved(original.with_edits([OpenPause(at, by, WHY, run_on=(number,))])).timeline
    rate = FILM.rate

    def gain(curves: tuple[object, ...], first: int, last: int) -> np.ndarray:
        total = np.ones(rate.samples(last, 48000) - rate.samples(first, 48000), np.float32)
        for found in curves:
            total = total * curve_gain(found, Span(first, last), rate)  # type: ignore[arg-type]
        return total

    levels = after.track(number).levels
    np.testing.assert_allclose(gain(levels, 0, at), gain((before,), 0, at), atol=1e-5)
    # From one frame later on: the ramp within the first frame starts where the gap held the value.
    np.testing.assert_allclose(gain(levels, at + by, 233), gain((before,), at, 200), atol=1e-5)


# --- what else a document stores ------------------------------------------------------------------

JSON_STORED = [name for name in GENERATIONS if name.split()[-1] in ("0.99", "1", "1.01", "1.04", "1.1")]


@pytest.mark.parametrize("name", [n for n in JSON_STORED if n.startswith("kdenlive")])
def test_playhead_and_zone_move_with_a_pause(name: str, tmp_path: Path):
    written = write_generation(name, tmp_path)
    project = written.project()
    parts = Parts(project.document)
    lists = lists_of(parts.root, main_timeline(project.host, parts))
    for stored, frame in (("position", 90), ("zonein", 10), ("zoneout", 120)):
        lists.put(stored, str(frame))
    edited = saved(saved(project).with_edits([OpenPause(40, 25, WHY)]))
    parts = Parts(edited.document)
    lists = lists_of(parts.root, main_timeline(edited.host, parts))
    assert [lists.text(stored) for stored in ("position", "zonein", "zoneout")] == ["115", "10", "145"]


def test_subtitles_are_written_beside_the_output_and_the_original_is_left(tmp_path: Path):
    path = write_feature("kdenlive 1.1 subtitles", tmp_path)
    side = path.with_name("film.kdenlive.ass")
    text = side.read_bytes()
    project = Written("kdenlive 1.1", FILM, path).project()
    folder = tmp_path / "out"
    folder.mkdir()
    target = project.with_edits([OpenPause(10, 50, WHY)]).save(folder / "new.kdenlive")
    assert side.read_bytes() == text
    moved = Written("kdenlive 1.1", FILM, target).project().timeline.subtitles
    assert moved == (folder / "new.kdenlive.ass",)
    assert "0:00:03.00,0:00:04.50" in moved[0].read_text(encoding="utf-8")
    assert b"0:00:01.00,0:00:02.50" in text


def test_a_changed_film_of_the_same_length_has_subtitles_of_its_own(tmp_path: Path):
    path = write_feature("kdenlive 1.1 subtitles", tmp_path)
    side = path.with_name("film.kdenlive.ass")
    project = Written("kdenlive 1.1", FILM, path).project()
    made = project.with_edits([AddMarker(10, "look", WHY)]).save(tmp_path / "new.kdenlive")
    (own,) = Written("kdenlive 1.1", FILM, made).project().timeline.subtitles
    assert own == tmp_path / "new.kdenlive.ass"
    assert own.read_bytes() == side.read_bytes()
    # Saved as it is, nothing is rewritten.
    as_it_is = project.save(tmp_path / "same.kdenlive")
    assert Written("kdenlive 1.1", FILM, as_it_is).project().timeline.subtitles == (side,)


def test_a_subtitle_across_the_pause_lasts_longer(tmp_path: Path):
    path = write_feature("kdenlive 1.1 subtitles", tmp_path)
    project = saved(Written("kdenlive 1.1", FILM, path).project().with_edits([OpenPause(50, 25, WHY)]))
    (file,) = project.timeline.subtitles
    assert "0:00:01.00,0:00:03.50" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("content", [None, b"\xff\xfe\xfa", b"no subtitles"])
def test_subtitles_that_cannot_be_read_are_named_as_not_moved(tmp_path: Path, content: bytes | None):
    path = write_feature("kdenlive 1.1 subtitles", tmp_path)
    side = path.with_name("film.kdenlive.ass")
    side.unlink() if content is None else side.write_bytes(content)
    project = Written("kdenlive 1.1", FILM, path).project()
    plan = mltassist.pause(project, at=["f50", "f10"], length=Fraction(1))
    (note,) = (note for note in plan.notes if str(side) in note.text)
    assert "their times were not moved" in note.text
    assert note.needs_editor
    assert project.document.unmoved == {}
