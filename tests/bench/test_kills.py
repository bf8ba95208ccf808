"""Hundreds of kills at random moments. Run by name only: pytest tests/bench/test_kills.py.

BENCH_SEED=7 before it kills at other moments.
"""

from __future__ import annotations

import pytest

from tests.bench.figures import SEED, noted
from tests.season.test_batch_kills import wrong_after_batch_kills
from tests.season.test_faults import wrong_after_kills

PARTS = 8
KILLS = 200 // PARTS
HALF = "of what kills left, not as it has to be"


@pytest.mark.parametrize("part", range(PARTS))
def test_two_hundred_kills_leave_nothing_half(tmp_path, part):
    wrong = wrong_after_kills(tmp_path, KILLS, seed=2_000 + part + 100 * SEED)
    noted(f"{KILLS} kills of a film, part {part + 1}", [len(wrong)], HALF, "0", not wrong)
    assert wrong == []


@pytest.mark.parametrize("part", range(PARTS))
def test_two_hundred_kills_of_a_batch_and_its_workers_cost_nothing_but_time(tmp_path, monkeypatch, part):
    # Half of the seasons remember nothing, so that kills meet measuring and planning as well as writing.
    if part % 2:
        monkeypatch.setenv("MLTASSIST_CACHE", "off")
    wrong = wrong_after_batch_kills(
        tmp_path, films=3, kills=KILLS, seed=4_000 + part + 100 * SEED, within_s=(2.0, 6.0)[part % 2]
    )
    noted(f"{KILLS} kills of a season, part {part + 1}", [len(wrong)], HALF, "0", not wrong)
    assert wrong == []
