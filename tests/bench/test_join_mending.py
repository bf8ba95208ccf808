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
import pytest

from mltassist.frames import Span
from mltassist.joins.planner.choose import _ORDER
from mltassist.joins.planner.judge import Verdict
from mltassist.media.sound.speech import RATE_HZ
from mltassist.recipe.rules import MendRules
from tests.joins.test_measures import judged
from tests.joins.test_offsets import FRAME, KINDS, best, reachable, taken_away
from tests.joins.truth import Recording, edit, recordings

EDGE = RATE_HZ // 50
"""Ends of words are known to so much."""

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


@pytest.mark.parametrize("half", ["held out", "seen", "actors", "games", "blind"])
def test_lost_ends_and_beginnings_come_back_whole(half):
    """By the spans of speech that are known of the whole recording, which the planner does not see."""
    rng = np.random.default_rng(32)
    tally: Counter[str] = Counter()
    for recording in recordings(half, 32):
        for _ in range(EACH):
            try:
                one = edit(recording, rng, "clipped")
            except AssertionError:
                break  # its room leaves no two quiet pauses
            end, beginning = (_cut(recording, place) for place in (one.out, one.into))
            if end is None and beginning is None:
                continue  # what was lost was no more than the play of the spans
            tally["lost"] += 1
            now, move = best(recording, one)
            tally["heard"] += now.score >= 1
            if move is None or now.score < 1:
                continue
            tally["mended"] += 1
            out, into = one.out + move.before_by * FRAME, one.into + move.after_by * FRAME
            whole = _cut(recording, out) is None and _cut(recording, into) is None
            more = (
                end is not None and out >= end.end - EDGE,
                beginning is not None and into <= beginning.start + EDGE,
            )
            tally["whole"] += whole and any(more)
            tally["harmed"] += taken_away(recording, one, move.before_by, move.after_by) > 0
    sys.stdout.write(f"\n  lost ends and beginnings: {half}: {dict(tally)}\n")
    # Where a text is read densely there is often no move that leaves a breath: that is told.
    assert tally["heard"] >= 20
    assert tally["whole"] >= 0.9 * tally["mended"]
    assert tally["whole"] >= 0.75 * tally["heard"]
    assert tally["harmed"] == 0


def _cut(recording: Recording, place: int) -> Span | None:
    """The stretch of speech that goes on at both sides of a place; None where none does."""
    return next((s for s in recording.speech if s.start + EDGE < place < s.end - EDGE), None)
