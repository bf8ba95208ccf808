"""Names of files that are being written, and the sweeping of those that killed runs left behind."""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import stat
import time
from functools import cache
from hashlib import sha256
from pathlib import Path
from platform import node

SETTLED_S = 10
"""A file of a process that is gone is left alone for so long: nobody writes into it any more."""
FOREIGN_S = 86_400
"""A file of another machine, whose processes cannot be seen from here: no run takes a day to write one."""

_NAME = re.compile(r"\.mltassist-([0-9a-f]{8})-(\d{1,10})-[0-9a-f]{16}\.tmp", re.ASCII)


def temporary_name(target: Path) -> Path:
    """A name beside `target` that no other process uses, and that tells whose it is."""
    return target.with_name(f".mltassist-{machine()}-{os.getpid()}-{secrets.token_hex(8)}.tmp")


def sweep(folder: Path) -> None:
    """Remove what killed runs left in a folder: regular files named by us whose process is gone."""
    with contextlib.suppress(OSError), os.scandir(folder) as found:
        for file in found:
            name = _NAME.fullmatch(file.name)
            if name is None:
                continue
            with contextlib.suppress(OSError):  # another run sweeps it too
                state = file.stat(follow_symlinks=False)
                if stat.S_ISREG(state.st_mode) and _is_left(name[1], int(name[2]), state.st_mtime):
                    Path(file.path).unlink()


def clear_after(folder: Path, process: int) -> None:
    """Remove what one process of this machine, which was ended, left in a folder."""
    with contextlib.suppress(OSError):
        for path in folder.glob(f".mltassist-{machine()}-{process}-*.tmp"):
            path.unlink()


@cache
def machine() -> str:
    """Eight digits for where a process number counts: the machine, and the container within it."""
    try:
        inside = str(Path("/proc/self/ns/pid").readlink())
    except OSError:
        inside = ""
    return sha256(f"{node()} {inside}".encode()).hexdigest()[:8]


def _is_left(owner: str, process: int, written: float) -> bool:
    age_s = time.time() - written
    if owner != machine():
        return age_s > FOREIGN_S
    return age_s > SETTLED_S and not _runs(process)


def _runs(process: int) -> bool:
    from psutil import pid_exists  # noqa: PLC0415 - wanted only where something was left; signal 0 is of posix

    try:
        return bool(pid_exists(process))
    except OverflowError:
        return False
