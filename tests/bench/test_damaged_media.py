"""A thousand damaged media. Run by name only: pytest tests/bench/test_damaged_media.py."""

from __future__ import annotations

import random
import resource
import sys
import time

from tests.media.damage import damaged, use, whole_media

COUNT = 1_000
LONGEST_S = 10
MOST_MIB = 1_200


def test_none_ends_in_a_traceback_hangs_or_eats_memory(tmp_path):
    dice = random.Random(30_000)
    media = whole_media(tmp_path)
    used, longest_s = 0, 0.0
    for number in range(COUNT):
        suffix, data = dice.choice(media)
        path = tmp_path / f"damaged-{number}{suffix}"
        path.write_bytes(damaged(data, dice))
        began = time.thread_time()
        used += use(path)
        longest_s = max(longest_s, time.thread_time() - began)
        path.unlink()
    mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    sys.stdout.write(f"{used} of {COUNT} used; the longest took {longest_s:.2f} s; {mib} MiB at the most\n")
    assert 0 < used < COUNT
    assert longest_s < LONGEST_S
    assert mib < MOST_MIB
