"""One at a time: of several processes that want the same result one works, and the others wait for it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from hashlib import blake2b
from pathlib import Path

from filelock import FileLock, Timeout

_PATIENCE_S = 600
"""Who works for longer hangs, or the disk forgets to release locks: then the others do it themselves."""
_holding = threading.local()


@contextmanager
def alone(folder: Path, key: str) -> Iterator[None]:
    """Nobody who asks for the same key is within at the same time, in any process that uses the folder.

    The system releases the lock of a process that dies. Work within that asks for another key does not wait,
    so that no two can wait for each other. Where no lock can be had everybody goes on.
    """
    if getattr(_holding, "one", False):
        yield
        return
    place = folder / f"{blake2b(key.encode(), digest_size=16).hexdigest()}.analysis-lock"
    lock = FileLock(place)
    with suppress(OSError, NotImplementedError, Timeout):
        folder.mkdir(parents=True, exist_ok=True)
        lock.acquire(timeout=_PATIENCE_S)
    _holding.one = True
    try:
        yield
    finally:
        _holding.one = False
        with suppress(OSError):
            had = lock.is_locked
            lock.release()
            # Who waits for it gets a file without a name, and finds the result; who comes later makes one.
            if had:
                place.unlink(missing_ok=True)
