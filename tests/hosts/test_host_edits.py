"""Each edit does to a document of each layout what it says, and nothing else."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import etree

from mltassist.checking import check
from mltassist.document import properties
from mltassist.document.keyframes import parse
from mltassist.document.load import Document, load
from mltassist.errors import NoSuchPlace, ProjectError, TrackLocked
from mltassist.frames import Span
from mltassist.hosts.registry import host_of
from mltassist.hosts.writing import apply
from mltassist.project import open_project
from mltassist.timeline.edits import (
    AddMarker,
    ClearOurs,
    Edit,
    FadeJoin,
    LayNatural,
    LayShot,
    LayTone,
    LayUnder,
    MarkClip,
    OpenPause,
    SetLevelCurve,
)
from mltassist.timeline.model import Gap, Marker, Timeline, TrackKind
from tests import referee
from tests.hosts.films import (
    BOAT,
    FILM,
    LAYOUTS,
    MUSIC,
    TALK,
    WAVES,
    Case,
    Row,
    expected_tracks,
    opened,
    rows,
    timeline_of,
    write_case,
)
from tests.hosts.generations import FEATURES
from tests.hosts.random_films import films

WHY = "a test"
CLEAR_ALL = tuple(ClearOurs(what, WHY) for what in ("cover", "natural", "duck", "markers"))


def key(case: Case, file: str) -> str:
    return str(case.path.parent / file)


def shot(case: Case, at: int = 70, length: int = 30, source_in: int = 12) -> LayShot:
    return LayShot(at, length, key(case, BOAT.file), source_in, WHY)


def natural(case: Case, at: int = 142, length: int = 15) -> LayNatural:
    return LayNatural(
        at, length, key(case, WAVES.file), 30, WHY, lead=5, trail=8, gain_db=-3.0, fade_in=2, fade_out=3
    )


def editors_rows(timeline: Timeline) -> dict[tuple[str, TrackKind], list[Row]]:
    return {(track.name, track.kind): rows(track) for track in timeline.tracks if not track.ours}


def assert_sound(document: Document) -> None:
    """What must hold of every document, whatever was done to it."""
    referee.check_names(document.root)
    timeline = timeline_of(document)
    for track in timeline.tracks:
        at = 0
        for item in track.items:
            assert item.start == at
            assert item.length > 0
            at = item.span.end
    starts = {(track.index, clip.start) for track in timeline.tracks for clip in track.clips()}
    for pair in timeline.linked:
        assert set(pair) <= starts, "a link names a clip that is not there"


# --- cutaways and natural sound -------------------------------------------------------------------


def test_a_shot_is_laid_silent_on_our_own_track(case: Case):
    document = case.edited(shot(case))
    assert_sound(document)
    timeline = timeline_of(document)
    cover = timeline.of_role("cover")
    assert cover is not None
    assert rows(cover) == [(70, 30, BOAT.file, 12)]
    assert cover.kind is TrackKind.PICTURE
    assert [(clip.plays_picture, clip.plays_sound) for clip in cover.clips()] == [(True, False)]
    assert cover.index == max(track.index for track in timeline.tracks)
    assert editors_rows(timeline) == editors_rows(case.timeline())
    assert timeline.length == 200


def test_shots_side_by_side_share_one_track_and_keep_the_order_of_time(case: Case):
    document = case.edited(shot(case, 100, 20), shot(case, 10, 20, 3), shot(case, 30, 70, 0))
    assert_sound(document)
    timeline = timeline_of(document)
    assert [rows(track) for track in timeline.tracks if track.ours] == [
        [(10, 20, BOAT.file, 3), (30, 70, BOAT.file, 0), (100, 20, BOAT.file, 12)]
    ]


@pytest.mark.parametrize("first", [-1, 51, 100, 10**8])
def test_frames_that_a_source_does_not_have_are_refused_with_clip_and_place(case: Case, first: int):
    boat, waves, talk = (key(case, rush.file) for rush in (BOAT, WAVES, TALK))
    sound = case.track("Interview", TrackKind.SOUND).index
    for edit in (
        LayShot(30, 50, boat, first, WHY),
        LayNatural(30, 50, waves, first, WHY),
        LayUnder(30, 50, boat, first, WHY),
        LayTone(30, 50, talk, first + 100 if first > 0 else first, WHY),
        FadeJoin(80, sound, talk, first + 151 if first > 0 else 1, WHY),
    ):
        with pytest.raises(NoSuchPlace, match=r"(boat|waves|talk)\.mkv' lasts .* at 00:00:0[13]:"):
            case.edited(edit)
    for lead, trail in ((41, 0), (0, 11)):
        with pytest.raises(NoSuchPlace, match=r"waves\.mkv' lasts 00:00:04:00: there is nothing"):
            case.edited(LayNatural(50, 50, waves, 40, WHY, lead=lead, trail=trail))
    case.edited(LayNatural(50, 50, waves, 40, WHY, lead=40, trail=10), LayShot(30, 50, boat, 50, WHY))


def test_a_shot_over_another_is_refused(case: Case):
    with pytest.raises(NoSuchPlace, match="taken"):
        case.edited(shot(case, 70, 30), shot(case, 99, 5))


def test_a_shot_of_something_that_is_not_in_the_project_is_refused(case: Case):
    with pytest.raises(ProjectError, match=r"nowhere\.mkv"):
        case.edited(replace(shot(case), source=key(case, "media/nowhere.mkv")))
    with pytest.raises(ProjectError, match=r"no track of ours is called 'covers'; these are: cover, "):
        case.edited(replace(shot(case), track="covers"))


def test_natural_sound_comes_with_its_picture_and_fades(case: Case):
    document = case.edited(natural(case))
    assert_sound(document)
    timeline = timeline_of(document)
    heard, seen = timeline.of_role("natural"), timeline.of_role("natural picture")
    assert heard is not None
    assert seen is not None
    assert (heard.kind, seen.kind) == (TrackKind.SOUND, TrackKind.PICTURE)
    assert rows(heard) == [(137, 28, WAVES.file, 25)]
    assert rows(seen) == [(142, 15, WAVES.file, 30)]
    assert [(c.plays_picture, c.plays_sound) for c in (*heard.clips(), *seen.clips())] == [
        (False, True),
        (True, False),
    ]
    (curve,) = next(heard.clips()).levels
    assert curve.ours
    assert [(k.frame, k.gain_db) for k in curve.keys] == [(137, -60), (139, -3), (161, -3), (164, -60)]
    assert editors_rows(timeline) == editors_rows(case.timeline())
    pair = {(seen.index, 142), (heard.index, 137)}
    assert (pair in [set(p) for p in timeline.linked]) == (case.layout == "kdenlive")


@pytest.mark.parametrize("layout", ["kdenlive"])
def test_a_sound_track_put_in_below_moves_every_stored_track_number(layout, tmp_path):
    case = write_case(layout, FILM, tmp_path)
    prefix = "kdenlive:sequenceproperties."

    def stored(document: Document) -> dict[str, int]:
        sequence = next(e for e in document.root if properties.get(e, prefix + "tracksCount"))
        names = ("activeTrack", "audioTarget", "videoTarget", "tracksCount", "tracks")
        return {name: int(properties.get(sequence, prefix + name) or "") for name in names}

    def transitions(document: Document) -> list[tuple[str, str, str]]:
        sequence = next(e for e in document.root if properties.get(e, prefix + "tracksCount"))
        return sorted(
            tuple(properties.get(t, name) or "" for name in ("mlt_service", "a_track", "b_track"))
            for t in sequence.iterchildren("transition")
        )

    before, document = case.document(), case.edited(natural(case))
    assert stored(before) == {
        "activeTrack": 2,
        "audioTarget": -1,
        "videoTarget": -1,
        "tracksCount": 4,
        "tracks": 4,
    }
    assert stored(document) == {
        "activeTrack": 3,
        "audioTarget": -1,
        "videoTarget": -1,
        "tracksCount": 6,
        "tracks": 6,
    }
    assert transitions(before) == [
        ("mix", "0", "1"),
        ("mix", "0", "2"),
        ("qtblend", "0", "3"),
        ("qtblend", "0", "4"),
    ]
    assert transitions(document) == [
        ("mix", "0", "1"),
        ("mix", "0", "2"),
        ("mix", "0", "3"),
        ("qtblend", "0", "4"),
        ("qtblend", "0", "5"),
        ("qtblend", "0", "6"),
    ]
    timeline = timeline_of(document)
    assert [(t.index, t.name) for t in timeline.tracks if not t.ours] == [
        (2, "Music"),
        (3, "Interview"),
        (4, "Interview"),
        (5, "Cutaways"),
    ]
    assert {frozenset(pair) for pair in timeline.linked} >= {
        frozenset({(3, start), (4, start)}) for start in (0, 80, 160)
    }


# --- pauses ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "by"),
    [
        pytest.param(40, 25, id="inside an interview clip"),
        pytest.param(80, 10, id="at the start of a clip"),
        pytest.param(145, 30, id="inside a gap"),
        pytest.param(140, 1, id="at the end of a clip"),
        pytest.param(160, 7, id="inside another track's clip"),
        pytest.param(0, 50, id="at the very start"),
        pytest.param(100, 75, id="longer than the music's source"),
    ],
)
def test_a_pause_moves_all_that_follows_and_music_plays_on(case: Case, at: int, by: int):
    music = case.track("Music", TrackKind.SOUND).index
    document = case.edited(OpenPause(at, by, WHY, run_on=(music,)))
    assert_sound(document)
    timeline = timeline_of(document)
    assert [(t.name, t.kind, rows(t)) for t in timeline.tracks] == [
        (name, kind, opened(clips, at, by, run_on=name == "Music"))
        for name, kind, clips in expected_tracks(FILM, case.layout)
    ]
    assert timeline.length == 200 + by
    assert [marker.at for marker in timeline.markers] == [
        mark.at + by if mark.at >= at else mark.at for mark in FILM.marks
    ]
    if case.layout == "kdenlive":
        picture, sound = (
            case.track("Interview", kind).index for kind in (TrackKind.PICTURE, TrackKind.SOUND)
        )
        starts = [clip.start for clip in timeline.track(picture).clips()]
        assert {frozenset(pair) for pair in timeline.linked} == {
            frozenset({(picture, start), (sound, start)}) for start in starts
        }


def test_a_pause_without_a_track_that_runs_on_splits_the_music_too(case: Case):
    document = case.edited(OpenPause(50, 10, WHY))
    assert_sound(document)
    found = editors_rows(timeline_of(document))[("Music", TrackKind.SOUND)]
    assert found == [(20, 30, MUSIC.file, 0), (60, 150, MUSIC.file, 30)]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_fades_of_a_split_clip_stay_at_its_outer_ends(layout, tmp_path):
    case = write_case(layout, FILM, tmp_path)
    document = case.document()
    music = case.track("Music", TrackKind.SOUND).index
    parts = {e.get("id"): e for e in document.root.iter("producer", "chain")}
    entry = next(  # the one of the timeline lasts 180 frames, that of the bin the whole source
        e
        for e in document.root.iter("entry")
        if (part := parts.get(e.get("producer"))) is not None
        and (properties.get(part, "resource") or "") == MUSIC.file
        and e.get("out") in ("179", "00:00:07.160")
    )
    home = parts[entry.get("producer")] if layout == "shotcut" else entry
    for first, last, gain, end in ((0, 9, "0", "1"), (160, 179, "1", "0")):
        fade = etree.SubElement(home, "filter", {"in": str(first), "out": str(last)})
        for name, value in (("mlt_service", "volume"), ("gain", gain), ("end", end)):
            properties.put(fade, name, value)
    apply(host_of(document), document, [OpenPause(100, 30, WHY)])
    assert_sound(document)
    clips = list(timeline_of(document).track(music).clips())
    assert [(clip.start, clip.length) for clip in clips] == [(20, 80), (130, 100)]
    assert [[curve.span for curve in clip.levels] for clip in clips] == [[Span(20, 30)], [Span(210, 230)]]


def test_our_own_clips_and_curves_move_with_a_pause_before_them(case: Case):
    music = case.track("Music", TrackKind.SOUND).index
    curve = SetLevelCurve(20, music, ((20, 0.0), (30, -12.0), (150, -12.0), (160, 0.0)), WHY)
    edits = (shot(case), curve, AddMarker(75, "look", WHY), OpenPause(60, 20, WHY, run_on=(music,)))
    document = case.edited(*edits)
    assert_sound(document)
    timeline = timeline_of(document)
    cover = timeline.of_role("cover")
    assert cover is not None
    assert rows(cover) == [(90, 30, BOAT.file, 12)]
    assert [marker.at for marker in timeline.markers if marker.ours] == [95]
    (moved,) = next(timeline.track(music).clips()).levels
    assert [(k.frame, k.gain_db) for k in moved.keys] == [(20, 0), (30, -12), (170, -12), (180, 0)]
    if moved.span is not None:
        assert moved.span == Span(20, 220)


@pytest.mark.parametrize("layout", ["kdenlive", "shotcut"])
def test_a_locked_track_is_not_moved(layout, tmp_path):
    case = write_case(layout, FILM, tmp_path)
    document = case.document()
    track = case.track("Music", TrackKind.SOUND).index
    name, tag = ("kdenlive:track_name", "tractor") if layout == "kdenlive" else ("shotcut:name", "playlist")
    holder = next(e for e in document.root.iter(tag) if properties.get(e, name) == "Music")
    properties.put(holder, "kdenlive:locked_track" if layout == "kdenlive" else "shotcut:lock", "1")
    host = host_of(document)
    for edit in (OpenPause(40, 5, WHY), SetLevelCurve(20, track, ((20, -6.0),), WHY)):
        with pytest.raises(TrackLocked, match="Music"):
            apply(host, document.copy(), [edit])
    apply(host, document, [OpenPause(200, 5, WHY), shot(case)])  # nothing of it lies after that place
    assert rows(timeline_of(document).track(track)) == [(20, 180, MUSIC.file, 0)]


@pytest.mark.parametrize("fades", [(10, 10), (100, 3), (3, 100), (0, 40), (40, 0), (7, 7)])
@pytest.mark.parametrize("length", [1, 2, 15])
def test_fades_longer_than_their_sound_share_it(case: Case, length: int, fades: tuple[int, int]):
    edit = replace(natural(case, length=length), lead=0, trail=0, fade_in=fades[0], fade_out=fades[1])
    track = timeline_of(case.edited(edit)).of_role("natural")
    assert track is not None
    ((curve,),) = [clip.levels for clip in track.clips()]
    frames = [key.frame - edit.at for key in curve.keys]
    assert frames == sorted(set(frames))
    assert 0 <= frames[0] <= frames[-1] < length
    assert max(key.gain_db for key in curve.keys) == edit.gain_db
    document = case.edited(edit)
    levels = [e.text or "" for e in document.root.iter("property") if e.get("name") == "level"]
    (written,) = [text for text in levels if "=-3" in text]
    read = [key.frame for key in parse(written, case.film.rate)]
    assert read == sorted(set(read))


# --- curves, markers, clearing ---------------------------------------------------------------------


def test_a_level_curve_is_read_as_it_was_set_and_replaces_the_one_before(case: Case):
    music = case.track("Music", TrackKind.SOUND).index
    first = SetLevelCurve(20, music, ((20, 0.0), (50, -18.0)), WHY)
    second = SetLevelCurve(20, music, ((25, -1.5), (50, -18.25), (120, -18.25), (140, 0.0)), WHY)
    document = case.edited(first, second)
    assert_sound(document)
    timeline = timeline_of(document)
    (curve,) = next(timeline.track(music).clips()).levels
    assert curve.ours
    assert tuple((key.frame, key.gain_db) for key in curve.keys) == second.keys
    assert not any(key.hold for key in curve.keys)
    others = [clip.levels for t in timeline.tracks if t.index != music for clip in t.clips()]
    assert not any(others)


def test_a_level_curve_where_no_clip_starts_is_refused(case: Case):
    music = case.track("Music", TrackKind.SOUND).index
    for at, track in ((21, music), (0, music), (20, 99)):
        with pytest.raises(NoSuchPlace):
            case.edited(SetLevelCurve(at, track, ((at, -6.0),), WHY))


def test_a_marker_is_added_once_and_known_as_ours(case: Case):
    timeline = timeline_of(case.edited(AddMarker(42, "check – é", WHY), AddMarker(42, "check – é", WHY)))
    assert [(g.at, g.text) for g in timeline.markers if g.ours] == [(42, "mltassist: check – é")]
    assert [(g.at, g.text) for g in timeline.markers if not g.ours] == [(m.at, m.text) for m in FILM.marks]


def all_edits(case: Case) -> tuple[Edit, ...]:
    music = case.track("Music", TrackKind.SOUND).index
    curve = SetLevelCurve(20, music, ((20, 0.0), (50, -18.0)), WHY)
    return (curve, shot(case), natural(case), AddMarker(90, "look", WHY))


def test_clearing_leaves_nothing_of_ours_but_empty_tracks(case: Case):
    document = case.edited(*all_edits(case), *CLEAR_ALL)
    assert_sound(document)
    timeline = timeline_of(document)
    assert not any(rows(track) for track in timeline.tracks if track.ours)
    assert not any(curve.ours for track in timeline.tracks for clip in track.clips() for curve in clip.levels)
    assert editors_rows(timeline) == editors_rows(case.timeline())
    assert [(g.at, g.text) for g in timeline.markers] == [(m.at, m.text) for m in FILM.marks]
    assert len(timeline.linked) == len(case.timeline().linked)
    parts = [e for e in document.root.iter("producer", "chain") if properties.get(e, "mltassist:role")]
    assert parts == []


def test_a_second_run_after_clearing_gives_the_same_timeline(case: Case):
    once = timeline_of(case.edited(*all_edits(case)))
    document = case.edited(*all_edits(case))
    music = once.track(case.track("Music", TrackKind.SOUND).index + (case.layout == "kdenlive")).index
    again = [replace(e, track=music) if isinstance(e, SetLevelCurve) else e for e in all_edits(case)]
    apply(host_of(document), document, (*CLEAR_ALL, *again))
    assert_sound(document)
    twice = timeline_of(document)
    assert sorted(map(sorted, twice.linked)) == sorted(map(sorted, once.linked))
    assert replace(twice, linked=once.linked) == once


# --- any film, any edits --------------------------------------------------------------------------


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    layout=st.sampled_from(LAYOUTS),
    film=films(),
    pauses=st.lists(st.tuples(st.integers(0, 400), st.integers(1, 90)), min_size=1, max_size=3),
    shots=st.lists(st.tuples(st.integers(0, 500), st.integers(1, 60)), max_size=3),
    run_on=st.booleans(),
)
def test_any_film_keeps_its_clips_through_any_edits(tmp_path, *, layout, film, pauses, shots, run_on):
    case = write_case(layout, film, tmp_path)
    expected = {(name, kind): clips for name, kind, clips in expected_tracks(film, layout)}
    music = case.track("Music", TrackKind.SOUND).index
    cover: list[Row] = []
    laid: list[Edit] = []
    for at, length in shots:
        span = Span(at, at + length)
        if not any(span.overlaps(Span(row.start, row.start + row.length)) for row in cover):
            laid.append(shot(case, at, length, 7))
            cover.append(Row(at, length, BOAT.file, 7))
    edits = [*laid, *(OpenPause(at, by, WHY, run_on=(music,) if run_on else ()) for at, by in pauses)]
    marks = [mark.at for mark in film.marks]
    for at, by in pauses:
        expected = {
            name: opened(clips, at, by, run_on=run_on and name[0] == "Music")
            for name, clips in expected.items()
        }
        cover = opened(sorted(cover), at, by)
        marks = [mark + by if mark >= at else mark for mark in marks]
    document = case.edited(*edits)
    assert_sound(document)
    timeline = timeline_of(document)
    assert editors_rows(timeline) == expected
    assert [row for track in timeline.tracks if track.ours for row in rows(track)] == cover
    assert [marker.at for marker in timeline.markers] == marks
    assert not any(isinstance(track.items[-1], Gap) for track in timeline.tracks if track.items)
    cleared = load(case.path.with_name(f"edited-{case.path.name}"))
    apply(host_of(cleared), cleared, CLEAR_ALL)
    assert_sound(cleared)
    assert editors_rows(timeline_of(cleared)) == expected


def test_a_clip_of_the_bin_is_marked_once_where_the_bin_holds_markers(case: Case):
    mark = MarkClip(key(case, BOAT.file), 12, "said: the tide – é", WHY)
    host = host_of(case.document())
    if not host.marks_clips:
        with pytest.raises(ProjectError, match="takes no marker in the bin"):
            case.edited(mark)
        return
    before, after = timeline_of(case.document()), timeline_of(case.edited(mark, mark))
    was, now = ({clip.source.key: clip.markers for clip in film.bin} for film in (before, after))
    new = now.pop(mark.source)
    assert [m for m in new if m not in was.pop(mark.source)] == [Marker(12, f"mltassist: {mark.text}", True)]
    assert now == was
    assert (after.tracks, after.markers) == (before.tracks, before.markers)


def test_the_documents_text_outside_the_edits_stays_as_it_was(case: Case):
    """An added marker changes one part of the tree: the timeline's markers."""
    before, after = case.document(), case.edited(AddMarker(42, "check", WHY))
    changed = [
        old.get("id")
        for old, new in zip(before.root, after.root, strict=True)
        if etree.tostring(old, method="c14n") != etree.tostring(new, method="c14n")
    ]
    assert len(changed) == 1


@pytest.mark.parametrize("key", [0, 1, 2])
def test_a_shot_in_a_sequence_that_stands_before_the_bin_is_defined_before_it_is_named(tmp_path, key):
    writer = FEATURES["kdenlive 1.1 nested sequence"]
    path = tmp_path / f"film{writer.suffix}"
    path.write_bytes(writer.write(FILM))
    inner = open_project(path, sequence="The shed")
    laid = inner.with_edits([LayShot(2, 5, inner.timeline.bin[key].source.key, 0, "test")])
    assert check(laid, original=inner) == ()
