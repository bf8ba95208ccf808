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
def test_two_hundred_kills_of_a_batch_and_its_workers_cost_nothing_but_time(tmp_path, monkeypatch, part):
    # Half of the seasons remember nothing, so that kills meet measuring and planning as well as writing.
    if part % 2:
        monkeypatch.setenv("MLTASSIST_CACHE", "off")
    batch_killed_at_random(
        tmp_path, films=3, kills=200 // PARTS, seed=4_000 + part, within_s=(2.0, 6.0)[part % 2]
    )
