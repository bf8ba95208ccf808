"""What keeping a result costs, in a folder that holds a few and in one that holds nearly all it may.

Run by name only: pytest tests/bench/test_cache_speed.py -s.
"""

from __future__ import annotations

import gc
import sys
import time
from hashlib import blake2b
from pathlib import Path

import numpy as np

from mltassist.media.cache import Store

FEW, MANY = 10, 18_000
WRITES = 2000
"""Enough for the folder to be looked through besides."""
MOST = 2.0
"""A folder of the system is slower itself the more it holds: making a file in it took 1.0 to 1.3 times."""


def filled(folder: Path, entries: int) -> Store:
    """A store that holds so many entries of others."""
    folder.mkdir()
    for number in range(entries):
        (folder / f"{blake2b(str(number).encode(), digest_size=20).hexdigest()}.analysis").write_bytes(b"x")
    return Store(folder)


def taken(store: Store) -> float:
    """Seconds of the processor for each write."""
    content = {"levels": np.zeros(100)}
    gc.collect()
    began = time.process_time()
    for number in range(WRITES):
        store.write(f"key {number % 1000}", content)
    return (time.process_time() - began) / WRITES


def test_a_write_costs_the_same_in_a_full_folder(tmp_path: Path):
    few, many = (taken(filled(tmp_path / str(entries), entries)) for entries in (FEW, MANY))
    sys.stdout.write(
        f"{1000 * few:.2f} ms a write beside {FEW} entries, {1000 * many:.2f} ms beside {MANY}:"
        f" {many / few:.2f} times\n"
    )
    assert many <= MOST * few
