"""A thousand damaged media. Run by name only: pytest -s tests/bench/test_damaged_media.py.

BENCH_SEED=7 before it damages them in other ways.
"""

from __future__ import annotations

import random
import resource
import sys
import time

import psutil

from mltassist.media import probe
from tests.bench.figures import SEED, noted
from tests.media.damage import damaged, use, whole_media

COUNT = 1_000
LONGEST_S = 10
"""One file of a thousand keeps the reader of headers busy for long, on a busy machine until it is ended."""
MOST_MIB = 600


def test_none_ends_in_a_traceback_hangs_or_eats_memory(tmp_path):
    dice = random.Random(30_000 + SEED)
    media = whole_media(tmp_path)
    used, longest_s = 0, 0.0
    for number in range(COUNT):
        suffix, data = dice.choice(media)
        path = tmp_path / f"damaged-{number}{suffix}"
        path.write_bytes(damaged(data, dice))
        began = time.monotonic()
        used += use(path)
        longest_s = max(longest_s, time.monotonic() - began)
        path.unlink()
    probe._headers.close()  # only what has ended is counted below
    own, apart = (
        resource.getrusage(whose).ru_maxrss // 1024
        for whose in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    sys.stdout.write(
        f"{used} of {COUNT} used; the longest took {longest_s:.2f} s;"
        f" {own} MiB at the most, the process apart {apart} MiB\n"
    )
    noted(f"the longest of {COUNT} damaged media", [longest_s], "s", f"< {LONGEST_S}", longest_s < LONGEST_S)
    most = max(own, apart)
    noted(f"memory of {COUNT} damaged media", [most], "MiB", f"< {MOST_MIB}", most < MOST_MIB)
    assert psutil.Process().children() == []
    assert 0 < used < COUNT
    assert longest_s < LONGEST_S
    assert own < MOST_MIB
    assert apart < MOST_MIB
