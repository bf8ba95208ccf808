"""The demonstration film, written by its command."""

from __future__ import annotations

from dataclasses import replace
from pathlib import PurePosixPath

import av
import pytest

from mltassist.demofilm import make
from mltassist.demofilm.scenario import CLIP_NUMBERS, rushes
from tests.cli.films import DOCUMENTS, EXAMPLE
from tests.strips import read_strip

LESSONS = EXAMPLE.parent


def test_a_folder_that_holds_something_is_left_alone(tmp_path, run):
    mine = tmp_path / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    assert "not empty" in run("demo", tmp_path).refused()
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
    assert str(mine) in run("demo", mine).refused()
    assert mine.read_text(encoding="utf-8") == "mine"


def test_the_demonstration_film_is_the_example_film(tmp_path, run, monkeypatch):
    """Of every rush only the beginning is made: drawing and coding them all takes a minute."""
    firsts = {rush.folder: rush for rush in reversed(rushes())}
    # Sound is written with every fifty pictures.
    made = [replace(rush, length=60 if rush is firsts[rush.folder] else 8) for rush in rushes()]
    monkeypatch.setattr(make, "rushes", lambda: made)
    folder = tmp_path / "new" / "demo"
    ran = run("demo", folder)
    assert ran.status == 0
    assert ran.out.splitlines() == [str(folder / name) for name in DOCUMENTS]
    for name in DOCUMENTS:
        assert (folder / name).read_bytes() == (EXAMPLE / name).read_bytes()
    written = {path.relative_to(folder).as_posix() for path in (folder / "media").rglob("*.*")}
    voices = {rush.file for rush in rushes() if rush.folder in ("Interviews", "Narration")}
    transcripts = {str(PurePosixPath(file).with_suffix(".srt")) for file in voices}
    assert written == {rush.file for rush in rushes()} | transcripts
    for name in transcripts:
        assert (folder / name).read_bytes() == (EXAMPLE / name).read_bytes()
    for rush in made:
        if not rush.picture:
            continue
        with av.open(str(folder / rush.file)) as container:
            assert container.streams.video[0].frames == rush.length
            codes = [read_strip(frame.to_ndarray(format="rgb24")) for frame in container.decode(video=0)]
        assert codes == [(CLIP_NUMBERS[rush.file], number) for number in range(rush.length)]


def test_a_lesson_is_named_before_the_folder(tmp_path, run):
    there = [*LESSONS.glob("media/*/*"), *LESSONS.glob("saltreed/media/*/*")]
    for file in (path.relative_to(LESSONS) for path in there):  # media that are there are not made again
        (tmp_path / file).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / file).touch()
    ran = run("demo", "music", tmp_path)
    assert ran.status == 0
    assert ran.out.splitlines() == [
        str(tmp_path / "music" / name) for name in ("music.mlt", "music.kdenlive", "music-shotcut.mlt")
    ]
    assert "not empty" in run("demo", "music", tmp_path).refused()
    assert "there is no lesson 'lighting'" in run("demo", "lighting", tmp_path).refused()
    assert not (tmp_path / "lighting").exists()


def test_the_rushes_of_the_example_film_are_as_long_as_they_are_said_to_be():
    for rush in rushes():
        with av.open(str(EXAMPLE / rush.file)) as container:
            if rush.picture:
                assert container.streams.video[0].frames == rush.length
            assert float(container.duration / av.time_base) == pytest.approx(rush.length / 25, abs=0.05)


def test_a_lesson_without_a_folder_is_not_taken_for_one(tmp_path, run, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert "mill is a lesson" in run("demo", "mill").refused()
    assert list(tmp_path.iterdir()) == []


def test_without_a_folder_the_lessons_are_listed(tmp_path, run, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ran = run("demo")
    assert ran.status == 0
    told = dict(line.split(maxsplit=1) for line in ran.out.splitlines())
    assert told.keys() == {path.parent.name for path in LESSONS.glob("*/recipe.toml")}
    assert told["not-enough"] == "Not enough was filmed"
    assert not list(tmp_path.iterdir())
