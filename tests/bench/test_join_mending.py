"""How many bad joins are mended, and how many could be, with many of them.

Run by name only: pytest tests/bench/test_join_mending.py -s. Prints for every kind of fault how many joins
there were, how many of them some pair of moves in reach improves without taking speech away (an exhaustive
search), how many of these the planner improved, how many it made clean, and how many rolling alone improved.
"""

from __future__ import annotations

import os
import sys
from collections import Counter

import numpy as np

from mltassist.joins.planner.choose import _ORDER
from mltassist.joins.planner.judge import Verdict
from mltassist.recipe.rules import MendRules
from tests.joins.test_measures import judged
from tests.joins.test_offsets import KINDS, best, reachable, taken_away
from tests.joins.truth import edit, recordings

EACH = int(os.environ.get("MLTASSIST_BENCH_EACH", "8"))


def test_bad_joins_are_mended():
    rng = np.random.default_rng(31)
    tally: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    for recording in recordings("held out", 31):
        for kind in KINDS:
            for _ in range(EACH):
                one = edit(recording, rng, kind)
                now = judged(recording, one)
                if now.score < 1:
                    continue
                count = tally[kind]
                count["bad"] += 1
                reach = reachable(recording, one)
                count["could be improved"] += reach
                move = best(recording, one)[1]
                if move is None:
                    continue
                assert move.judgement.score < now.score
                assert taken_away(recording, one, move.before_by, move.after_by) == 0
                improved = _ORDER[move.judgement.verdict] < _ORDER[now.verdict]
                count["improved of these"] += improved and reach
                count["made clean"] += move.judgement.verdict is Verdict.CLEAN
                rolled = best(recording, one, MendRules(length="kept"))[1]
                count["improved by rolling"] += (
                    rolled is not None and _ORDER[rolled.judgement.verdict] < _ORDER[now.verdict]
                )
    for kind, count in tally.items():
        sys.stdout.write(f"\n  {kind}: {dict(count)}")
    could = sum(count["could be improved"] for count in tally.values())
    done = sum(count["improved of these"] for count in tally.values())
    sys.stdout.write(f"\n  improved {done} of the {could} that could be\n")
    assert done >= 0.8 * could
