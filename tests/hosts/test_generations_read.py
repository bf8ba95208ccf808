"""Every layout of the hosts is read as the film it was written from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from xml.parsers import expat

import pytest

from mltassist.checking import check
from mltassist.errors import ProjectError
from mltassist.frames import Rate
from mltassist.project import Project, open_project
from mltassist.timeline.model import Gap, TrackKind
from tests.hosts.films import BOAT, FILM, MUSIC, TALK, WAVES
from tests.hosts.generations import FEATURES, GENERATIONS, ODDITIES, tracks
from tests.hosts.written import RATES, Written, editors, meant, write_feature, write_generation

LINKED = [name for name in GENERATIONS if len(tracks(name, FILM)) == 4]
"""Layouts in which a clip's picture and sound lie on tracks of their own."""


@pytest.fixture(params=RATES, ids=["25", "29.97"])
def fast(request: pytest.FixtureRequest) -> Rate:
    found: Rate = request.param
    return found


@pytest.fixture(params=GENERATIONS)
def written(request: pytest.FixtureRequest, tmp_path: Path, fast: Rate) -> Written:
    return write_generation(request.param, tmp_path, replace(FILM, rate=fast))


def canonical(document: bytes) -> list[tuple[object, ...]]:
    """All that canonical XML keeps, in order, read without namespaces (older documents bind none)."""
    found: list[tuple[object, ...]] = []

    def text(data: str) -> None:
        if found and found[-1][0] == "text":
            data = f"{found.pop()[1]}{data}"
        found.append(("text", data))

    parser = expat.ParserCreate()
    parser.StartElementHandler = lambda name, values: found.append((name, tuple(sorted(values.items()))))
    parser.EndElementHandler = lambda name: found.append(("/", name))
    parser.CharacterDataHandler = text
    parser.CommentHandler = lambda data: found.append(("comment", data))
    parser.ProcessingInstructionHandler = lambda *words: found.append(("instruction", *words))
    parser.Parse(document, True)
    return found


def test_clips_lie_where_the_film_says(written: Written):
    timeline = written.project().timeline
    assert editors(timeline) == meant(written.generation, written.film)
    assert [track.index for track in timeline.tracks] == list(range(1, len(timeline.tracks) + 1))
    assert (timeline.rate, timeline.width, timeline.height) == (written.film.rate, 160, 90)
    assert timeline.length == written.film.length
    assert timeline.host == written.generation.partition(" ")[0]
    assert timeline.warnings == ()


def test_items_follow_one_another_without_a_hole(written: Written):
    for track in written.project().timeline.tracks:
        at = 0
        for item in track.items:
            assert item.start == at
            assert item.length > 0
            at = item.span.end
        assert not isinstance(track.items[-1], Gap)


def test_pictures_and_sounds_are_told_apart(written: Written):
    for half, track in zip(
        tracks(written.generation, written.film), written.project().timeline.tracks, strict=True
    ):
        heard = half.sound or half.joined
        for clip in track.clips():
            assert (clip.plays_picture, clip.plays_sound) == (not half.sound, heard)
        assert (track.locked, track.hidden, track.muted) == (False, False, False)


def test_clips_have_the_names_and_lengths_of_their_rushes(written: Written):
    timeline = written.project().timeline
    named = {written.key(rush.file): rush for rush in written.film.rushes}
    for track in timeline.tracks:
        for clip in track.clips():
            rush = named[clip.source.key]
            assert (clip.name, clip.source.length, clip.speed) == (rush.name, rush.length, 1)
            assert (clip.levels, clip.remap, clip.reframed) == ((), (), False)


def test_the_bin_holds_the_rushes_in_their_folders(written: Written):
    timeline = written.project().timeline
    found = {clip.source.key: clip for clip in timeline.bin}
    assert list(found) == [written.key(rush.file) for rush in written.film.rushes]
    for rush in written.film.rushes:
        clip = found[written.key(rush.file)]
        assert clip.name == rush.name
        assert clip.folder == (rush.folder if timeline.host == "kdenlive" else "")
        assert (clip.zones, clip.markers) == ((), ())
        if written.generation in ("kdenlive 1.1", "shotcut 25.12"):
            assert (clip.tags, clip.notes) == (rush.tags, rush.note)


def test_markers_lie_where_the_film_says(written: Written):
    marks = [(mark.at, mark.text) for mark in written.film.marks]
    older = written.generation.startswith("shotcut") and written.generation != "shotcut 25.12"
    markers = written.project().timeline.markers
    assert [(marker.at, marker.text) for marker in markers] == ([] if older else marks)
    assert not any(marker.ours for marker in markers)


def test_picture_and_sound_of_a_clip_are_linked(written: Written):
    found = {frozenset(pair) for pair in written.project().timeline.linked}
    pairs = {frozenset({(3, start), (2, start)}) for start in (0, 80, 160)}
    assert found == (pairs if written.generation in LINKED else set())


def test_saving_without_an_edit_changes_nothing(written: Written):
    target = written.project().save(written.path.with_name("copy.mlt"))
    assert canonical(target.read_bytes()) == canonical(written.path.read_bytes())


def test_nothing_is_found_wrong_with_the_hosts_own_documents(written: Written):
    assert [fault for fault in check(written.project()) if fault.kind != "media"] == []


@pytest.mark.parametrize("name", [*FEATURES, *ODDITIES])
def test_no_feature_and_no_oddity_is_changed_by_saving(name: str, tmp_path: Path):
    if name in FEATURES:
        path = write_feature(name, tmp_path)
    else:
        path = tmp_path / f"odd{ODDITIES[name].suffix}"
        path.write_bytes(ODDITIES[name].write(FILM))
    target = open_project(path).save(tmp_path / f"copy{path.suffix}")
    assert canonical(target.read_bytes()) == canonical(path.read_bytes())


# --- oddities -------------------------------------------------------------------------------------


def odd(name: str, folder: Path) -> Project:
    path = folder / f"odd{ODDITIES[name].suffix}"
    path.write_bytes(ODDITIES[name].write(FILM))
    return open_project(path)


@pytest.mark.parametrize("name", [name for name, oddity in ODDITIES.items() if oddity.same])
def test_an_oddity_hides_no_clip(name: str, tmp_path: Path):
    layout = {".mlt": "shotcut 24.04", ".kdenlive": "kdenlive 1"}[ODDITIES[name].suffix]
    found = [clips for *_, clips in editors(odd(name, tmp_path).timeline)]
    expected = [clips for *_, clips in meant(layout, FILM)]
    assert found == ([*expected, []] if name == "empty track" else expected)


STILL = ("still of four hours", "clock without fraction", "sixty minutes")


@pytest.mark.parametrize("name", STILL)
def test_a_still_lasts_as_long_as_its_entry(name: str, tmp_path: Path):
    cutaways = odd(name, tmp_path).timeline.tracks[1]
    assert [(clip.start, clip.length, clip.source.kind) for clip in cutaways.clips()] == [(150, 20, "colour")]


def test_an_entry_longer_than_its_still_keeps_its_length(tmp_path: Path):
    (clip,) = odd("entry longer than its still", tmp_path).timeline.tracks[3].clips()
    assert (clip.start, clip.length) == (150, 20)


def test_an_entry_without_ends_plays_all_of_its_source(tmp_path: Path):
    (clip,) = odd("entry without ends", tmp_path).timeline.tracks[2].clips()
    assert (clip.start, clip.length, clip.source_in) == (20, MUSIC.length, 0)


def test_names_of_another_system_are_kept_as_they_are(tmp_path: Path):
    timeline = odd("windows paths", tmp_path).timeline
    found = {Path(clip.source.key.replace("\\", "/")).name: clip.source.path for clip in timeline.bin}
    assert found["talk.mkv"] == tmp_path / TALK.file
    assert str(found["boat.mkv"]) == r"D:\Rushes\boat.mkv"


def test_markers_come_in_the_order_of_time(tmp_path: Path):
    markers = odd("markers unsorted", tmp_path).timeline.markers
    assert [marker.at for marker in markers] == [mark.at for mark in FILM.marks]


def test_an_empty_list_of_groups_or_markers_is_none(tmp_path: Path):
    timeline = odd("empty JSON", tmp_path).timeline
    assert (timeline.markers, timeline.linked) == ((), ())


@pytest.mark.parametrize(
    ("name", "rate"),
    [
        ("rate in millionths", Rate(25)),
        ("rate 60000000/1000000", Rate(60)),
        ("rate 33570000/1119679", Rate(33570000, 1119679)),
        ("wrong profile description", Rate(25)),
    ],
)
def test_the_rate_is_what_the_profiles_numbers_say(name: str, rate: Rate, tmp_path: Path):
    assert odd(name, tmp_path).timeline.rate == rate


def test_a_document_without_a_timeline_is_refused_in_words(tmp_path: Path):
    with pytest.raises(ProjectError, match="has no timeline"):
        odd("no timeline", tmp_path).timeline  # noqa: B018 - read when first asked for


def test_unused_parts_are_no_clips_of_the_bin(tmp_path: Path):
    assert len(odd("unused parts", tmp_path).timeline.bin) == len(FILM.rushes)


def test_clips_without_a_name_are_called_after_their_file(tmp_path: Path):
    timeline = odd("empty clip names", tmp_path).timeline
    names = {clip.name for track in timeline.tracks for clip in track.clips()}
    assert names == {Path(rush.file).stem for rush in (TALK, BOAT, MUSIC)}
    assert {clip.name for clip in timeline.bin} == names | {Path(WAVES.file).stem}


def test_the_kind_of_every_track_is_the_hosts_own_word(tmp_path: Path):
    """In the layout whose pairs of `hide` are unequal."""
    timeline = write_generation("kdenlive 1", tmp_path).project().timeline
    kinds = [TrackKind.SOUND, TrackKind.SOUND, TrackKind.PICTURE, TrackKind.PICTURE]
    assert [track.kind for track in timeline.tracks] == kinds
