"""Two hundred kills at random moments. Run by name only: pytest tests/bench/test_kills.py."""

from __future__ import annotations

import pytest

from tests.season.test_faults import killed_at_random

PARTS = 4


@pytest.mark.parametrize("part", range(PARTS))
def test_two_hundred_kills_leave_nothing_half(tmp_path, part):
    killed_at_random(tmp_path, 200 // PARTS, seed=2_000 + part)
