"""The one door to files that others name: ordinary files of this machine, no more of them than fits.

A document, a recipe or a folder may name a pipe that never ends, a device, or a file of the kernel's that
waits: opening those could hang for ever, and reading some of them changes what they are.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, lru_cache
from pathlib import Path
from typing import BinaryIO

MOST_TEXT = 16 * 2**20
"""Bytes of the longest text that is read: a subtitle line or a row of a log takes about a hundred."""

_KERNEL = ("/proc", "/sys")
"""Folders whose ordinary files are made up by the kernel as they are read; some of them wait."""

Maps = tuple[tuple[str, str], ...]
"""Folders as the caller's machine calls them, and where each lies on this one."""
_maps: ContextVar[Maps] = ContextVar("maps", default=())
_WINDOWS = re.compile(r"[A-Za-z]:[/\\]|\\\\")


@contextmanager
def lying_elsewhere(maps: Sequence[tuple[str, str]]) -> Iterator[None]:
    """Work for a machine that sees the same files under other folders: pairs of its names and of ours.

    Within, documents, plans and notes speak of all files as that machine does; `here` tells where one lies.
    """
    token = _maps.set(tuple(sorted(((_plain(ours), lies) for ours, lies in maps), key=_longest)))
    try:
        yield
    finally:
        _maps.reset(token)


def maps_in_force() -> Maps:
    """The folders that lie elsewhere on this machine, for the work that is being done; mostly none."""
    return _maps.get()


def here(path: Path) -> Path:
    """Where a file that is named as on the machine we work for lies on this one."""
    if not (maps := _maps.get()):
        return path
    text = _plain(str(path))
    for theirs, ours in maps:
        if text == theirs or text.startswith(theirs.rstrip("/") + "/"):
            return Path(ours, text[len(theirs) :].lstrip("/"))
    return path


def named(text: str) -> str:
    """A path of this machine, or words that hold some, as the machine we work for calls them."""
    for theirs, ours in _maps.get():
        folder = re.escape(ours.rstrip("/\\") or ours)
        text = re.sub(rf"(?<![\w/.-]){folder}(?![\w.-])", theirs.rstrip("/").replace("\\", r"\\"), text)
    return text


def _plain(path: str) -> str:
    """A path with the slashes of this system, also where it is of another."""
    return path.replace("\\", "/") if _WINDOWS.match(path) else path


def _longest(pair: tuple[str, str]) -> int:
    return -len(pair[0])


class NotOrdinary(OSError):
    """What was named is no ordinary file, or too long. `strerror` says so."""

    def __init__(self, path: Path, what: str) -> None:
        super().__init__(None, what, str(path))
        self.strerror = what


def ordinary(path: Path) -> os.stat_result:
    """The state of an ordinary file, or of what a link to one leads to, without opening anything.

    Raises NotOrdinary for a folder, pipe, device, socket or file of the kernel's; OSError where there is
    nothing or it may not be seen.
    """
    try:
        state = path.stat()
    except ValueError:  # a zero in the name
        raise NotOrdinary(path, "no file can be called so") from None
    if not stat.S_ISREG(state.st_mode):
        raise NotOrdinary(path, "it is not an ordinary file")
    if os.name == "posix" and (state.st_dev in _kernel_disks() or _is_kernel_s(path, state)):
        raise NotOrdinary(path, "it is a file of the system's, not one of its own")
    return state


def open_ordinary(path: Path) -> BinaryIO:
    """An ordinary file opened for reading bytes; what took its place meanwhile is not waited for.

    Raises as `ordinary`.
    """
    ordinary(path)
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise NotOrdinary(path, "it is not an ordinary file")
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def read_bytes(path: Path, most: int = MOST_TEXT) -> bytes:
    """All of an ordinary file. Raises as `ordinary`, and NotOrdinary where it has more bytes than `most`."""
    with open_ordinary(path) as file:
        data = file.read(most + 1)
    if len(data) > most:
        raise NotOrdinary(path, f"it is larger than {most >> 20} MiB")
    return data


def read_text(path: Path, encoding: str = "utf-8") -> str:
    """The text of an ordinary file with plain line ends. Raises as `read_bytes`, and UnicodeDecodeError."""
    text = read_bytes(path).decode(encoding)
    return text.replace("\r\n", "\n").replace("\r", "\n")


@lru_cache(4096)
def _real(path: str, _disk: int, _number: int) -> Path:
    return Path(path).resolve()


def real_path(path: Path, state: os.stat_result) -> Path:
    """Where a file with this state really lies. Asked once a file: every folder above it costs a look."""
    return _real(str(path), state.st_dev, state.st_ino) if path.is_absolute() else path.resolve()


@cache
def _kernel_disks() -> set[int]:
    found = set()
    for folder in _KERNEL:
        try:
            found.add(Path(folder).stat().st_dev)
        except OSError:
            continue
    return found


def _is_kernel_s(path: Path, state: os.stat_result) -> bool:
    real = real_path(path, state)
    return any(real.is_relative_to(folder) for folder in _KERNEL)
