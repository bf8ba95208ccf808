"""Work of the worst kinds, for a process apart."""

from __future__ import annotations

import os
import time


def work(request: str) -> object:
    """Does what it is asked for."""
    kind, _, rest = request.partition(" ")
    if kind == "never":
        time.sleep(60)
    if kind == "eat":
        return len([b"x" * 2**20 for _ in range(int(rest))])
    if kind == "die":
        os._exit(1)
    if kind == "fail":
        raise RuntimeError(rest)
    return [os.getpid(), rest]
