"""Lessons are made as they are handed out."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import mltassist
from mltassist.cli.main import command
from mltassist.demofilm import make, media
from mltassist.demofilm.lessons import LESSONS
from mltassist.demofilm.sources import BORROWED
from mltassist.errors import OutputError

EXAMPLES = Path(__file__).parents[2] / "example_projects"
FILMS = [(lesson.name, name) for lesson in LESSONS.values() for name in lesson.films()]


def _empty(_: str, new: str) -> None:
    Path(new).touch()


@pytest.fixture
def folder(tmp_path) -> Path:
    """A folder with the media of all lessons, so that only documents and papers are made."""
    for shared in ("media", "saltreed"):
        shutil.copytree(
            EXAMPLES / shared, tmp_path / shared, copy_function=lambda one, two: Path(two).touch()
        )
    return tmp_path


@pytest.mark.parametrize("name", LESSONS)
def test_a_lesson_is_made_byte_for_byte_as_it_is_handed_out(name: str, folder: Path) -> None:
    documents = make.demo(folder, lesson=name)
    given = {path.name: path.read_bytes() for path in (EXAMPLES / name).iterdir()}
    made = {path.name: path.read_bytes() for path in (folder / name).iterdir()}
    assert made.keys() == given.keys()
    assert [file for file, content in made.items() if content != given[file]] == []
    assert {path.name for path in documents} < given.keys()
    assert {"README.md", "recipe.toml", "log.csv"} <= given.keys()
    with pytest.raises(OutputError, match="not empty"):
        make.demo(folder, lesson=name)


def test_media_that_are_there_are_kept(folder: Path) -> None:
    make.demo(folder, lesson="shorter-bite")
    assert (folder / "media/interview/ines-1.mp4").stat().st_size == 0


def test_a_file_that_is_lacking_is_made_whole(folder: Path, monkeypatch) -> None:
    monkeypatch.setattr(media, "_sound_of", lambda source, rush: made[rush.file])
    made = {"../media/narration/narration.m4a": media.sounds.ambience(1, 48_000)}
    (folder / "media/narration/narration.m4a").unlink()
    make.demo(folder, lesson="narration")
    assert (folder / "media/narration/narration.m4a").stat().st_size > 1000
    assert not list((folder / "media").rglob("*.part"))


@pytest.mark.parametrize(("lesson", "name"), FILMS)
def test_every_rush_of_a_lesson_lies_beside_it_with_its_transcript(lesson: str, name: str) -> None:
    for rush in LESSONS[lesson].films()[name].rushes:
        file = EXAMPLES / lesson / rush.file
        assert file.is_file()
        assert rush.file.startswith(("../media/", BORROWED))
        if rush.folder in {"Interviews", "Narration"}:
            assert file.with_suffix(".srt").is_file()


@pytest.mark.parametrize(("lesson", "name"), FILMS)
def test_nothing_of_a_lesson_is_cut_beyond_its_source(lesson: str, name: str) -> None:
    film = LESSONS[lesson].films()[name]
    lengths = {rush.file: rush.length for rush in film.rushes}
    for lane in film.lanes:
        for spot in lane.placements:
            assert 0 <= spot.source_in < spot.source_in + spot.length <= lengths[spot.file]


def test_a_lesson_that_is_not_there_is_named(folder: Path) -> None:
    with pytest.raises(make.NoSuchLesson, match="there are shorter-bite, narration"):
        make.demo(folder, lesson="lighting")


def test_the_help_names_every_lesson() -> None:
    told = " ".join((command.commands["demo"].help or "").split())
    assert [name for name in LESSONS if name not in told] == []


@pytest.mark.parametrize(("lesson", "name"), FILMS)
def test_the_three_documents_of_a_lesson_are_one_edit(lesson: str, name: str) -> None:
    read = [
        mltassist.open(EXAMPLES / lesson / f"{name}{end}").timeline
        for end in (".mlt", ".kdenlive", "-shotcut.mlt")
    ]
    assert {timeline.length for timeline in read} == {LESSONS[lesson].films()[name].length}
    assert len({tuple((mark.at, mark.text) for mark in timeline.markers) for timeline in read}) == 1
    assert {len(timeline.bin) for timeline in read} == {len(LESSONS[lesson].films()[name].rushes)}
