"""Two hundred kills at random moments. Run by name only: pytest tests/bench/test_kills.py."""

from __future__ import annotations

from tests.season.test_faults import killed_at_random


def test_two_hundred_kills_leave_nothing_half(tmp_path):
    killed_at_random(tmp_path, 200, seed=2_000)
