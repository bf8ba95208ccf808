"""Which move of a join sounds best, and whether it is worth making."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from mltassist.joins.planner.judge import Judgement, Measures, Verdict
from mltassist.recipe.rules import MendRules

MOST_OF_ONE = 3.0
"""A fault counts up to this much, so that no single one hides what happens to the others."""
MOVE = 0.02
"""Cost of each frame by which a side moves: the editor's own cut is kept where others are no better."""
SHIFT = 0.01
"""Besides, for each frame by which the film becomes longer or shorter."""

NEAR = 6
"""Frames within which a move is looked for first: the ends of most words lie there, but not in a hall."""

_ORDER = {Verdict.CLEAN: 0, Verdict.CHECK: 1, Verdict.HEARD: 2}


@dataclass(frozen=True, slots=True)
class Move:
    """A join moved: frames later of either side, how it would be judged, and its cost."""

    before_by: int
    after_by: int
    judgement: Judgement
    cost: float

    @property
    def shift(self) -> int:
        """Frames by which the film becomes longer."""
        return self.before_by - self.after_by


def nearest_improvements(
    now: Judgement,
    moves_within: Callable[[int], Iterable[tuple[int, int, Measures]]],
    judged: Callable[[Measures], Judgement],
    mend: MendRules,
) -> tuple[Move, ...]:
    """The better moves within NEAR frames, or where none of those is clean, within the recipe's reach.

    moves_within: the moves of so many frames at most on either side, measured.
    """
    if now.verdict is Verdict.CLEAN:
        return ()
    near = min(NEAR, mend.reach_frames)
    found = improvements(now, moves_within(near), judged, mend)
    if near == mend.reach_frames or (found and found[0].judgement.verdict is Verdict.CLEAN):
        return found
    return improvements(now, moves_within(mend.reach_frames), judged, mend)


def improvements(
    now: Judgement,
    moves: Iterable[tuple[int, int, Measures]],
    judged: Callable[[Measures], Judgement],
    mend: MendRules,
) -> tuple[Move, ...]:
    """The moves that make a join better, best first; none where it is clean. judged: weighs measures.

    Cost of a move: the sizes of all that may be heard, each over its own limit and at most MOST_OF_ONE,
    summed; and a little for every frame moved. A move counts as better when its verdict is, or when the
    verdict is the same and the score lower by the part `better_by`.
    """
    if now.verdict is Verdict.CLEAN:
        return ()
    found = []
    for before_by, after_by, measures in moves:
        if mend.length == "kept" and before_by != after_by:
            continue
        judgement = judged(measures)
        if is_better(judgement, now, mend.better_by):
            cost = sum(min(size, MOST_OF_ONE) for size in judgement.sizes)
            cost += MOVE * (abs(before_by) + abs(after_by)) + SHIFT * abs(before_by - after_by)
            found.append(Move(before_by, after_by, judgement, cost))
    return tuple(sorted(found, key=lambda m: (_ORDER[m.judgement.verdict], m.cost, m.before_by, m.after_by)))


def is_better(one: Judgement, other: Judgement, better_by: float) -> bool:
    """True when a join so judged sounds better than one judged like the other."""
    if one.verdict is not other.verdict:
        return _ORDER[one.verdict] < _ORDER[other.verdict]
    return one.score <= other.score * (1 - better_by)
