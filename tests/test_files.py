"""The door to files that others name."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from mltassist import files
from mltassist.files import (
    MOST_TEXT,
    NotOrdinary,
    open_ordinary,
    ordinary,
    read_bytes,
    read_text,
    real_path,
)

posix = pytest.mark.skipif(os.name != "posix", reason="pipes, devices and /proc of posix")


def test_a_file_and_a_link_to_one_are_read(tmp_path):
    file, link = tmp_path / "a.txt", tmp_path / "link"
    file.write_bytes("Fähre\r\nzwei\rdrei".encode())
    link.symlink_to(file)
    for path in (file, link):
        assert ordinary(path).st_size == file.stat().st_size
        assert read_bytes(path) == file.read_bytes()
        assert read_text(path) == "Fähre\nzwei\ndrei"


def test_a_file_lies_where_its_link_leads_now(tmp_path, monkeypatch):
    link = tmp_path / "link"
    for name in ("a", "b", "a"):
        (tmp_path / name).mkdir(exist_ok=True)
        (tmp_path / name / "film").write_bytes(b"film")
        link.unlink(missing_ok=True)
        link.symlink_to(tmp_path / name)
        found = real_path(link / "film", ordinary(link / "film"))
        assert found == (tmp_path / name / "film").resolve()
        monkeypatch.chdir(tmp_path / name)  # the same words, from another folder
        assert real_path(Path("film"), ordinary(Path("film"))) == found


@posix
def test_a_folder_of_the_kernels_is_known_by_its_place_too(tmp_path, monkeypatch):
    (tmp_path / "system").mkdir()
    (tmp_path / "system" / "file").touch()
    (tmp_path / "link").symlink_to(tmp_path / "system")
    monkeypatch.setattr(files, "_KERNEL", (str(tmp_path.resolve() / "system"),))
    monkeypatch.setattr(files, "_kernel_disks", set)
    with pytest.raises(NotOrdinary, match="a file of the system's"):
        ordinary(tmp_path / "link" / "file")


def pipe(folder: Path) -> Path:
    os.mkfifo(folder / "pipe")
    return folder / "pipe"


def plug(folder: Path) -> Path:
    """A socket: its file stays when it is closed."""
    here = Path.cwd()
    os.chdir(folder)  # names of sockets are short
    try:
        with socket.socket(socket.AF_UNIX) as one:
            one.bind("socket")
    finally:
        os.chdir(here)
    return folder / "socket"


def link(target: str):
    def make(folder: Path) -> Path:
        (folder / "link").symlink_to(target)
        return folder / "link"

    return make


ODD = {
    "pipe": pipe,
    "socket": plug,
    "folder": lambda folder: folder,
    "device": lambda _: Path("/dev/zero"),
    "link to a device": link("/dev/random"),
    "file of the kernel": lambda _: Path("/proc/self/status"),
    "link to one": link("/proc/version"),
    "by way of another folder": lambda _: Path("/dev/../proc/version"),
    "open file": lambda _: Path("/proc/self/fd/0"),
    "setting of the system": lambda _: Path("/sys/kernel/mm/transparent_hugepage/enabled"),
}


@posix
@pytest.mark.parametrize("kind", ODD)
def test_what_is_no_ordinary_file_is_never_opened(tmp_path, monkeypatch, kind):
    path = ODD[kind](tmp_path)
    if not os.path.lexists(path):
        pytest.skip(f"{path} is not here")

    def opened(*_: object) -> int:
        raise AssertionError("it was opened")

    monkeypatch.setattr(os, "open", opened)
    for use in (ordinary, open_ordinary, read_bytes, read_text):
        with pytest.raises(NotOrdinary) as refused:
            use(path)
        assert refused.value.strerror


@posix
def test_what_became_a_pipe_meanwhile_is_not_waited_for(tmp_path, monkeypatch):
    path = tmp_path / "film.srt"
    path.touch()
    monkeypatch.setattr("mltassist.files.ordinary", lambda path: path.stat())
    path.unlink()
    os.mkfifo(path)
    with pytest.raises(NotOrdinary):
        read_bytes(path)


def test_what_is_not_there_and_what_is_no_name_are_errors_of_the_system(tmp_path):
    with pytest.raises(FileNotFoundError):
        read_bytes(tmp_path / "none")
    for name in ("a\0b", "x" * 5000):
        with pytest.raises(OSError):
            read_bytes(tmp_path / name)


def test_no_more_is_read_than_fits(tmp_path):
    path = tmp_path / "long.txt"
    path.touch()
    os.truncate(path, MOST_TEXT)
    assert len(read_bytes(path)) == MOST_TEXT
    os.truncate(path, 200 * 2**20)
    with pytest.raises(NotOrdinary, match=r"larger than 16 MiB"):
        read_bytes(path)
