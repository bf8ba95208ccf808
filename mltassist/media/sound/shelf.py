"""Sound that was decoded in this run, laid aside for whoever asks for it next.

Speech, joins, loudness and the mix all listen to the same recordings. What one of them has decoded lies
in a file without a name, which the system takes away with the process however it ends. Nothing is kept
between runs: for that there is `media.cache`.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from collections.abc import Hashable
from pathlib import Path
from threading import Lock
from typing import IO

import numpy as np
from numpy.typing import NDArray

from mltassist.media.cache import default_store

_MOST_BYTES = 2 * 2**30
FREE_SHARE = 4
"""At most one part in so many of what is free on the disk is used."""


class Shelf:
    """A place for arrays, each under a key. What does not fit is not kept."""

    def __init__(self, folder: Path | None = None, limit_bytes: int = _MOST_BYTES) -> None:
        self._folder, self._limit = folder, limit_bytes
        self._file: IO[bytes] | None = None
        self._end = 0
        self._places: dict[Hashable, tuple[int, tuple[int, ...], np.dtype[np.generic]]] = {}
        self._lock = Lock()
        self._owner = os.getpid()

    def get(self, key: Hashable) -> NDArray[np.generic] | None:
        """The array under a key, None where none is kept. Others may read and write meanwhile."""
        with self._lock:
            self._own()
            if key not in self._places or self._file is None:
                return None
            at, shape, kind = self._places[key]
            array = np.empty(shape, kind)
            self._file.seek(at)
            # A file cut short under our hands gives nothing rather than rubbish.
            whole = self._file.readinto(array.reshape(-1).view(np.uint8).data) == array.nbytes  # type: ignore[attr-defined]
            return array if whole else None

    def put(self, key: Hashable, array: NDArray[np.generic]) -> bool:
        """Keep an array; False where there is no room for it."""
        with self._lock:
            self._own()
            if key in self._places:
                return True
            if self._end + array.nbytes > self._limit:
                return False
            try:
                if self._file is None:
                    self._open()
                if self._file is None or self._end + array.nbytes > self._limit:
                    return False
                self._file.seek(self._end)
                self._file.write(np.ascontiguousarray(array).data)
            except OSError:
                self._limit = 0  # a full disk is no reason to stop, nor to try again
                return False
            self._places[key] = (self._end, array.shape, array.dtype)
            self._end += array.nbytes
            return True

    def _own(self) -> None:
        # A process that was forked shares the file's position with its parent: it starts anew.
        if self._owner != os.getpid():
            self._forget()
            self._owner = os.getpid()

    def _forget(self) -> None:
        if self._file is not None:
            self._file.close()
        self._file, self._end = None, 0
        self._places.clear()

    def close(self) -> None:
        """Take everything off the shelf and give its room back."""
        with self._lock:
            self._forget()

    def _open(self) -> None:
        for folder in dict.fromkeys((self._folder, Path(tempfile.gettempdir()))):
            if folder is None:
                continue
            try:
                folder.mkdir(parents=True, exist_ok=True)
                self._file = tempfile.TemporaryFile(dir=folder, buffering=0)  # noqa: SIM115 - lives as long as we do
                self._limit = min(self._limit, shutil.disk_usage(folder).free // FREE_SHARE)
            except OSError:
                continue
            return
        self._limit = 0


_shelves: list[Shelf] = []


def the_shelf() -> Shelf:
    """The shelf of this run: beside the analyses that are remembered, else where temporary files go."""
    if not _shelves:
        _shelves.append(Shelf(default_store().folder))
        atexit.register(_shelves[0].close)
    return _shelves[0]
