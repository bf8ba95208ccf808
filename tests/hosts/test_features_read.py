"""What a project may hold besides cuts is read as its writer states it."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from mltassist.checking import check
from mltassist.errors import NoSuchPlace
from mltassist.frames import Rate, round_half_up
from mltassist.hosts.subtitletimes import moved
from mltassist.project import open_project
from mltassist.timeline.model import Clip, Dissolve, LevelCurve, SourceKind, Timeline, Track
from tests.hosts.films import BOAT, FILM, TALK, WAVES, rows
from tests.hosts.generations import FEATURES
from tests.hosts.written import RATES, generation_of, meant, saying, write_feature

# Topics that nothing reads: "ignored" is what must not be a track, "side" is covered by "subtitles".


def says(name: str, topic: str) -> Any:
    return FEATURES[name].says[topic]


def timeline_of(name: str, folder: Path, rate: Rate = FILM.rate) -> Timeline:
    return open_project(write_feature(name, folder, rate)).timeline


def clip_at(timeline: Timeline, track: int, start: int) -> Clip:
    return next(clip for clip in timeline.track(track).clips() if clip.start == start)


def heard_at(curves: tuple[LevelCurve, ...], frame: int) -> float:
    """The gain in dB that steady curves and keys give at a frame, by the statement of the keys alone."""
    return sum(
        next(k.gain_db for k in c.keys if k.frame == frame) if len(c.keys) > 1 else c.keys[0].gain_db
        for c in curves
    )


@pytest.mark.parametrize("name", FEATURES)
def test_every_feature_is_read_and_has_no_fault(name: str, tmp_path: Path):
    project = open_project(write_feature(name, tmp_path))
    assert len(project.timeline.tracks) == len(meant(generation_of(name), FILM))
    assert [fault for fault in check(project) if fault.kind != "media"] == []


@pytest.mark.parametrize("rate", RATES, ids=["25", "29.97"])
@pytest.mark.parametrize("name", [n for n in saying("clips") if "dissolves" not in FEATURES[n].says])
def test_clips_lie_where_the_feature_says(name: str, rate: Rate, tmp_path: Path):
    timeline = timeline_of(name, tmp_path, rate)
    backward = {place for place, text in FEATURES[name].says.get("speeds", {}).items() if text == "-1"}  # type: ignore[attr-defined]
    for track, start, length, file, source_in in says(name, "clips"):
        clip = clip_at(timeline, track, start)
        assert clip.length == length
        assert clip.source.key in (str(tmp_path / file), f"colour:{file}")
        if (track, start) in backward or (track, start) in FEATURES[name].says.get("speeds", {}):  # type: ignore[operator]
            continue  # the stated first frame is the entry's own; see the test of speeds
        if clip.source.kind is SourceKind.FILE:
            assert clip.source_in == source_in


# --- speed ----------------------------------------------------------------------------------------


def expected_source(name: str, frame: int) -> int:
    """Source frame of the cutaway (entry from own frame 5) at a frame of it, worked out by hand.

    The whole boat has 100 frames. At twice its speed own frame n is source frame 2n, at half n/2, half
    a frame going up; backward own frame n is 99 - n.
    """
    own = 5 + frame
    speed = Fraction(says(name, "speeds")[next(iter(says(name, "speeds")))])
    return round_half_up(own * speed) if speed > 0 else 99 - own


@pytest.mark.parametrize("name", saying("speeds"))
def test_clips_at_other_speeds_show_the_right_source_frames(name: str, tmp_path: Path):
    timeline = timeline_of(name, tmp_path)
    for (track, start), text in says(name, "speeds").items():
        clip = clip_at(timeline, track, start)
        if "remap" in name:
            assert clip.remap
        else:
            assert clip.speed == Fraction(text)
        assert not clip.plain_speed
        shown = [clip.source_frame(start + frame) for frame in range(clip.length)]
        assert shown == [expected_source(name, frame) for frame in range(clip.length)]
        assert (clip.source_span.start, clip.source_span.end) == (min(shown), max(shown) + 1)


# --- dissolves ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", saying("dissolves"))
def test_dissolves_within_a_track_are_read(name: str, tmp_path: Path):
    timeline = timeline_of(name, tmp_path)
    found = [
        (track.index, item.start, item.length, item.outgoing.source.key, item.incoming.source.key)
        for track in timeline.tracks
        for item in track.items
        if isinstance(item, Dissolve)
    ]
    assert found == [
        (track, start, length, str(tmp_path / out), str(tmp_path / into))
        for track, start, length, out, into in says(name, "dissolves")
    ]


@pytest.mark.parametrize("name", [n for n in saying("dissolves") if FEATURES[n].says["dissolves"]])
def test_the_halves_of_a_dissolve_run_on_from_their_clips(name: str, tmp_path: Path):
    for track in timeline_of(name, tmp_path).tracks:
        for before, item, after in zip(track.items, track.items[1:], track.items[2:], strict=False):
            if not isinstance(item, Dissolve):
                continue
            assert isinstance(before, Clip)
            assert isinstance(after, Clip)
            # Each of the two halves keeps the step between timeline and source of its clip.
            assert item.outgoing.source_in - before.source_in == item.start - before.start
            assert after.source_in - item.incoming.source_in == after.start - item.start
            assert (before.start, before.length, item.start, item.length) == (0, 75, 75, 10)
            assert (before.source_in, item.outgoing.source_in) == (10, 85)
            assert (item.incoming.source_in, after.source_in) == (115, 125)


# --- gains ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [n for n in saying("gain_db") if FEATURES[n].says["gain_db"]])
def test_steady_gains_are_read(name: str, tmp_path: Path):
    timeline = timeline_of(name, tmp_path)
    for (track, start), gain in says(name, "gain_db").items():
        found = heard_at(clip_at(timeline, track, start).levels, start)
        assert found == (pytest.approx(gain, abs=0.01) if math.isfinite(gain) else -120)


@pytest.mark.parametrize("name", [n for n in saying("gain_db") if not FEATURES[n].says["gain_db"]])
def test_fades_of_the_picture_are_no_gains(name: str, tmp_path: Path):
    tracks = timeline_of(name, tmp_path).tracks
    assert not any(track.levels or clip.levels for track in tracks for clip in track.clips())


@pytest.mark.parametrize("rate", RATES, ids=["25", "29.97"])
@pytest.mark.parametrize("name", saying("levels"))
def test_level_keys_are_read_in_timeline_frames(name: str, rate: Rate, tmp_path: Path):
    timeline = timeline_of(name, tmp_path, rate)
    for (track, start), keys in says(name, "levels").items():
        (curve,) = clip_at(timeline, track, start).levels
        assert [(key.frame, key.gain_db) for key in curve.keys] == keys


@pytest.mark.parametrize("name", saying("track_levels"))
def test_level_keys_of_a_track_are_read(name: str, tmp_path: Path):
    timeline = timeline_of(name, tmp_path)
    for track, keys in says(name, "track_levels").items():
        (curve,) = timeline.track(track).levels
        assert [(key.frame, key.gain_db) for key in curve.keys] == keys


@pytest.mark.parametrize("name", saying("fades"))
def test_fades_of_sound_are_read(name: str, tmp_path: Path):
    timeline = timeline_of(name, tmp_path)
    for (track, start), (into, out) in says(name, "fades").items():
        clip = clip_at(timeline, track, start)
        starts = [
            (key.frame, later.frame)
            for curve in clip.levels
            for key, later in zip(curve.keys, curve.keys[1:], strict=False)
            if key.gain_db < -50 < later.gain_db
        ]
        ends = [
            (key.frame, later.frame)
            for curve in clip.levels
            for key, later in zip(curve.keys, curve.keys[1:], strict=False)
            if key.gain_db > -50 > later.gain_db
        ]
        assert starts == ([(start, start + into - 1)] if into else [])
        assert ends == [(clip.span.end - out, clip.span.end - 1)]


def test_keys_that_hold_their_value_are_told_apart(tmp_path: Path):
    path = write_feature("kdenlive 0.99 volume keys", tmp_path)
    text = path.read_text(encoding="utf-8")
    assert text.count("=-27;") == 1
    path.write_text(text.replace("=-27;", "|=-27;"), encoding="utf-8")
    (curve,) = clip_at(open_project(path).timeline, 2, 80).levels
    assert [key.hold for key in curve.keys] == [True, False, False]


# --- tracks ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", saying("muted"))
def test_states_of_tracks_are_read(name: str, tmp_path: Path):
    tracks = timeline_of(name, tmp_path).tracks

    def which(state: Callable[[Track], bool]) -> list[int]:
        return [track.index for track in tracks if state(track)]

    assert which(lambda track: track.muted) == says(name, "muted")
    assert which(lambda track: track.hidden) == says(name, "hidden")
    assert which(lambda track: track.locked) == says(name, "locked")


@pytest.mark.parametrize("name", saying("ignored"))
def test_a_track_of_the_hosts_own_is_none_of_the_editors(name: str, tmp_path: Path):
    indices = {track.index for track in timeline_of(name, tmp_path).tracks}
    assert not indices & set(says(name, "ignored"))


def test_names_of_tracks_are_read_in_their_order(tmp_path: Path):
    found = [track.name for track in timeline_of("shotcut 24.04 sound between pictures", tmp_path).tracks]
    assert found == says("shotcut 24.04 sound between pictures", "names")


def test_tracks_without_a_name_are_called_as_the_host_shows_them(tmp_path: Path):
    found = [track.name for track in timeline_of("kdenlive 1 unnamed tracks", tmp_path).tracks]
    assert found == says("kdenlive 1 unnamed tracks", "names")


# --- bin, markers, links ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", saying("markers", "zones", "folders"))
def test_marks_zones_and_folders_of_clips_are_read(name: str, tmp_path: Path):
    clips = {clip.source.key: clip for clip in timeline_of(name, tmp_path).bin}
    stated = FEATURES[name].says
    for file, marks in stated.get("markers", {}).items():  # type: ignore[attr-defined]
        assert sorted((m.at, m.text) for m in clips[str(tmp_path / file)].markers) == marks
    for file, (first, last) in stated.get("zones", {}).items():  # type: ignore[attr-defined]
        (zone,) = clips[str(tmp_path / file)].zones
        assert (zone.start, zone.end) == (first, last + 1)
    for file, folder in stated.get("folders", {}).items():  # type: ignore[attr-defined]
        assert clips[str(tmp_path / file)].folder == folder


@pytest.mark.parametrize("name", saying("guides"))
def test_markers_are_read(name: str, tmp_path: Path):
    assert [(g.at, g.text) for g in timeline_of(name, tmp_path).markers] == says(name, "guides")


def test_categories_of_markers_are_read_by_name(tmp_path: Path):
    markers = timeline_of("kdenlive 1.1 marker categories", tmp_path).markers
    assert {marker.category for marker in markers} == {
        says("kdenlive 1.1 marker categories", "categories")[1]
    }


@pytest.mark.parametrize("name", saying("linked"))
def test_pairs_of_picture_and_sound_are_read(name: str, tmp_path: Path):
    found = [set(pair) for pair in timeline_of(name, tmp_path).linked]
    pairs = [pair for pair in says(name, "linked") if len(pair) == 2 and len({s for _, s in pair}) == 1]
    assert sorted(map(sorted, found)) == sorted(map(sorted, pairs))


# --- proxies, sequences, subtitles ----------------------------------------------------------------


@pytest.mark.parametrize("name", saying("paths"))
def test_the_original_is_read_where_it_is_there(name: str, tmp_path: Path):
    (tmp_path / "media").mkdir()
    for file in (BOAT.file, WAVES.file, TALK.file):
        (tmp_path / file).touch()
    timeline = timeline_of(name, tmp_path)
    sources = [clip.source for track in timeline.tracks for clip in track.clips()]
    for stand_in, original in says(name, "paths").items():
        assert str(tmp_path / stand_in) not in {source.key for source in sources}
        (found,) = {source for source in sources if source.key == str(tmp_path / original)}
        assert (found.path, found.proxy) == (tmp_path / original, False)
    assert timeline.warnings == ()


@pytest.mark.parametrize("name", saying("paths"))
def test_a_proxy_is_measured_where_its_original_is_missing(name: str, tmp_path: Path):
    timeline = timeline_of(name, tmp_path)
    for stand_in, original in says(name, "paths").items():
        clips = [c for t in timeline.tracks for c in t.clips() if c.source.key == str(tmp_path / original)]
        assert clips
        assert {(c.source.path, c.source.proxy) for c in clips} == {(tmp_path / stand_in, True)}
        (warning,) = timeline.warnings
        assert Path(original).name in warning
        assert "proxy" in warning


def test_a_nested_sequence_is_one_clip(tmp_path: Path):
    name = "kdenlive 1.1 nested sequence"
    timeline = timeline_of(name, tmp_path)
    for track, start, length, first in says(name, "nested"):
        clip = clip_at(timeline, track, start)
        assert (clip.length, clip.source_in, clip.source.kind) == (length, first, SourceKind.SEQUENCE)
        assert clip.source.path is None
    assert len(timeline.tracks) == 4


def test_a_sequence_is_chosen_by_its_name(tmp_path: Path):
    path = write_feature("kdenlive 1.1 two sequences, none active", tmp_path)
    assert open_project(path).timeline.sequences == ("Inner", FILM.title)
    inner = open_project(path, sequence="Inner").timeline
    assert [rows(track) for track in inner.tracks] == [[(0, 40, WAVES.file, 30)]] * 2
    outer = open_project(path, sequence=FILM.title).timeline
    assert [rows(track) for track in outer.tracks] == [clips for *_, clips in meant("kdenlive 1.1", FILM)]
    with pytest.raises(NoSuchPlace, match="its sequences are: Inner"):
        open_project(path, sequence="Outer").timeline  # noqa: B018 - read when first asked for


def test_lengths_are_those_of_the_tracks(tmp_path: Path):
    timeline = timeline_of("kdenlive 1.1 stale lengths", tmp_path)
    assert timeline.length == says("kdenlive 1.1 stale lengths", "length")


def test_subtitle_files_are_named(tmp_path: Path):
    timeline = timeline_of("kdenlive 1.1 subtitles", tmp_path)
    (found,) = timeline.subtitles
    assert found == tmp_path / says("kdenlive 1.1 subtitles", "side")
    ((words, first, last),) = says("kdenlive 1.1 subtitles", "subtitles")
    text = found.read_text(encoding="utf-8")
    assert words in text
    start_ms = int(Fraction(first) * 1000)
    later = moved(text, lambda at_ms: 2000 if at_ms >= start_ms else 0)
    assert "0:00:03.00,0:00:04.50" in later
    assert Fraction(last) == Fraction("2.5")
