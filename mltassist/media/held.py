"""What was last read from the cache and of media files, held while neither they nor the entries change.

Somebody who decides on a page has the same film planned again and again, and each time hundreds are read.
"""

from __future__ import annotations

import os
import time
from collections import OrderedDict
from pathlib import Path
from threading import Lock
from typing import Generic, TypeVar

_Kept = TypeVar("_Kept")
_SETTLED_NS = 2 * 10**9
"""A file that was changed so lately may change again within the step of the clock that it is stamped by."""


class Held(Generic[_Kept]):
    """Something made of each file, with its state; those used last stay, up to so many bytes and files."""

    def __init__(self, limit_bytes: int, limit: int) -> None:
        self._limit_bytes, self._limit, self._bytes = limit_bytes, limit, 0
        self._of: OrderedDict[Path, tuple[object, _Kept, int]] = OrderedDict()
        self._lock = Lock()

    def get(self, path: Path, state: object) -> _Kept | None:
        """What was made of the file in this state; None where that is not held."""
        with self._lock:
            found = self._of.get(path)
            if found is None or found[0] != state:
                return None
            self._of.move_to_end(path)
            return found[1]

    def put(self, path: Path, state: object, kept: _Kept, size: int) -> None:
        """Hold what was made of a file in this state, so many bytes large."""
        with self._lock:
            self._drop(path)
            if size > self._limit_bytes // 8:
                return
            self._of[path], self._bytes = (state, kept, size), self._bytes + size
            while self._bytes > self._limit_bytes or len(self._of) > self._limit:
                self._drop(next(iter(self._of)))

    def _drop(self, path: Path) -> None:
        self._bytes -= self._of.pop(path, (None, None, 0))[2]


def settled_state(found: os.stat_result) -> tuple[int, ...] | None:
    """The state of a file that was left alone for a while; None for one that was changed just now."""
    last = max(found.st_mtime_ns, found.st_ctime_ns)
    if time.time_ns() - last < _SETTLED_NS:
        return None
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns
