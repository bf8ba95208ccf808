"""Hundreds of kills at random moments. Run by name only: pytest tests/bench/test_kills.py."""

from __future__ import annotations

import pytest

from tests.season.test_batch_kills import batch_killed_at_random
from tests.season.test_faults import killed_at_random

PARTS = 4


@pytest.mark.parametrize("part", range(PARTS))
def test_two_hundred_kills_leave_nothing_half(tmp_path, part):
    killed_at_random(tmp_path, 200 // PARTS, seed=2_000 + part)


@pytest.mark.parametrize("part", range(PARTS))
def test_a_hundred_kills_of_a_batch_and_its_workers_cost_nothing_but_time(tmp_path, monkeypatch, part):
    # Half of the seasons find nothing measured before, so that kills meet measuring as well as writing.
    if part % 2:
        monkeypatch.setenv("MLTASSIST_CACHE", str(tmp_path / "cache"))
    batch_killed_at_random(tmp_path, films=6, kills=100 // PARTS, seed=4_000 + part, within_s=6.0)
