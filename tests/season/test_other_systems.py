"""What Windows and macOS do otherwise, as far as it can be tried where neither is."""

from __future__ import annotations

import ctypes
import os
import time
from collections import namedtuple
from pathlib import Path
from types import SimpleNamespace

import pytest

import mltassist
from mltassist.cli.options import two_folders
from mltassist.document import leftovers
from mltassist.files import here, lying_elsewhere, named
from mltassist.season import crew
from mltassist.season.crew import Lost, in_processes
from mltassist.season.overview import _address
from tests.cli.films import short, write
from tests.season.test_crew import job

MIB = 2**20
WINDOWS = namedtuple("WINDOWS", "rss vms private")
"""Of what psutil tells of memory on Windows, by its documentation; elsewhere nothing is called private."""
LARGE = Lost("it took more than 600 MiB of memory and was ended")


def process_that_tells(taken: object) -> type:
    return lambda _: SimpleNamespace(memory_info=lambda: taken)


@pytest.mark.parametrize(
    ("taken", "expected"),
    [
        (WINDOWS(50 * MIB, 2000 * MIB, 900 * MIB), LARGE),  # most of it lies on the disk
        (WINDOWS(50 * MIB, 2000 * MIB, 40 * MIB), "a"),
        (SimpleNamespace(rss=900 * MIB, vms=2000 * MIB, pfaults=1, pageins=1), LARGE),  # macOS
    ],
)
def test_memory_is_what_a_process_was_given(monkeypatch, taken, expected):
    monkeypatch.setattr(crew.psutil, "Process", process_that_tells(taken))
    piece = "hang" if expected == LARGE else "a"
    assert dict(in_processes(job, [(piece, "")], jobs=1, most_mib=600)) == {0: expected}


def test_workers_do_not_hear_ctrl_c_on_windows_and_their_caller_does_again(monkeypatch):
    told = []
    kernel = SimpleNamespace(SetConsoleCtrlHandler=lambda *given: told.append(given))
    monkeypatch.setattr(ctypes, "windll", SimpleNamespace(kernel32=kernel), raising=False)
    monkeypatch.setattr(crew, "os", SimpleNamespace(name="nt", environ=os.environ))
    with pytest.raises(ValueError, match="within"), crew._deaf():
        assert told == [(None, True)]
        raise ValueError("within")
    assert told == [(None, True), (None, False)]


def test_a_process_that_refuses_to_be_ended_because_it_is_going_costs_nothing(monkeypatch):
    def refused(_: object) -> None:
        raise PermissionError(13, "Access is denied")

    monkeypatch.setattr("multiprocessing.process.BaseProcess.terminate", refused)
    assert dict(in_processes(job, [("a", "")], jobs=1)) == {0: "a"}


def test_what_a_killed_run_left_is_known_without_a_signal(monkeypatch, tmp_path):
    monkeypatch.delattr(os, "kill")  # on Windows it would end the process that is asked for
    monkeypatch.setattr("psutil.pid_exists", lambda number: number == os.getpid())
    owner = leftovers.machine()
    left, kept = (tmp_path / f".mltassist-{owner}-{n}-{0:016}.tmp" for n in (2**22 + 1, os.getpid()))
    for path in (left, kept):
        path.touch()
        os.utime(path, (time.time() - 60,) * 2)
    leftovers.sweep(tmp_path)
    assert list(tmp_path.iterdir()) == [kept]


def test_a_target_that_somebody_has_open_is_told_and_stays(monkeypatch, tmp_path):
    project = mltassist.open(write(short(300), tmp_path, "plain.mlt"))
    target = tmp_path / "new.mlt"
    target.write_text("old")

    def refused(*_: object) -> None:
        raise PermissionError(13, "Access is denied")

    monkeypatch.setattr(os, "replace", refused)
    with pytest.raises(mltassist.MltAssistError) as told:
        project.save(target, force=True)
    assert str(told.value).endswith("cannot be written (Access is denied); choose another folder or name")
    assert target.read_text() == "old"
    assert {path.name for path in tmp_path.iterdir()} == {"media", "new.mlt", "plain.mlt"}


def test_drives_of_windows_are_folders_like_others():
    assert two_folders("D:\\reels=/mnt/reels") == ("D:\\reels", "/mnt/reels")
    with lying_elsewhere([two_folders("D:\\reels=/mnt/reels")]):
        assert here(Path("D:\\reels\\ep1\\a.mov")) == Path("/mnt/reels/ep1/a.mov")
        assert named("/mnt/reels/ep1/a.mov: no such file") == "D:/reels/ep1/a.mov: no such file"


def test_a_page_links_films_on_another_drive_from_its_root(monkeypatch, tmp_path):
    def refused(*_: object) -> str:
        raise ValueError("path is on mount 'D:', start on mount 'C:'")

    monkeypatch.setattr(os.path, "relpath", refused)
    film = tmp_path / "a film.mlt"
    assert _address(film, tmp_path / "pages") == film.as_uri()
