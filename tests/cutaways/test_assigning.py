"""Clips chosen anew: what they cost is what a plan counts, and few spans are filled as well as can be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from random import Random

import numpy as np
import pytest

from mltassist.cutaways.planner.assigning import Assigning
from mltassist.cutaways.planner.best import Best
from mltassist.cutaways.planner.film import CoverTask, Frames, Moment, Refused, Shot, Used, Voice
from mltassist.cutaways.planner.objective import filling_cost
from mltassist.cutaways.planner.rules import breaches
from mltassist.cutaways.planner.shots import Filler
from mltassist.cutaways.planner.stable import HARD
from mltassist.cutaways.planner.supply import Supply, supply_of
from mltassist.cutaways.planner.words import Matcher, Spoken
from mltassist.frames import Span
from tests.cutaways.films import task_of
from tests.cutaways.test_plan_exact import RULES

Held = dict[tuple[Span, int], float]


def case(seed: int) -> tuple[CoverTask, Frames, list[Span], Held]:
    """Two to four spans and three to six moments, with all that decides which may lie where."""
    draw = Random(seed)
    spans, at = list[Span](), draw.randrange(3)
    for _ in range(draw.randint(2, 4)):
        spans.append(Span(at, at + draw.randint(3, 5)))
        at = spans[-1].end + draw.choice([0, 0, 2, 9])
    supply = tuple(
        Moment(
            f"/{draw.randrange(6)}.mov",
            Span(first, first + draw.randint(3, 11)),
            "",
            draw.choice(["WS", "CU"]),
            (draw.choice(["wheel", "gate", "gulls", "cart"]),),
            draw.choice([1.0, 0.5]),
            draw.choice([(), (), (), ("ines",)]),
        )
        for first in (0, 4, 20, 40, 60, 80)[: draw.randint(3, 6)]
    )
    task = replace(
        task_of(("ines", at + 30)),
        supply=supply,
        words=tuple(Spoken(draw.choice(["wheel", "gate", "other"]), draw.randrange(at), "en") for _ in "abc"),
        used=tuple(Used("/1.mov", Span(2, 4), Span(at + 9, at + 11)) for _ in range(draw.randrange(2))),
        refused=tuple(Refused("/2.mov", draw.choice(spans)) for _ in range(draw.randrange(2))),
        voices=tuple(Voice(draw.choice(spans), ("tobias",)) for _ in range(draw.randrange(2))),
    )
    held = {
        (draw.choice(spans), draw.randrange(len(supply))): draw.choice([0.5, 3.0])
        for _ in range(draw.randrange(2))
    }
    return task, replace(RULES, reuse_after=draw.choice([0, 4])), spans, held


def assigning(task: CoverTask, rules: Frames, spans: list[Span], held: Held) -> tuple[Assigning, Best]:
    supply, matcher = supply_of(task), Matcher(task.words, [m.subjects for m in supply_of(task).moments])
    best = Best(task, rules, supply, matcher, tries=1)
    choice = Assigning(task, rules, supply, spans, limits=best.limits, matcher=matcher, held=held)
    return choice, best


def every(
    task: CoverTask, rules: Frames, spans: list[Span], supply: Supply
) -> Iterator[tuple[tuple[int, ...], tuple[Shot, ...] | None]]:
    """All fillings there are, by numbers of moments; the shots, where they can be laid."""
    filler = Filler(task, rules, supply, Matcher(task.words, [m.subjects for m in supply.moments]))
    for numbers in product(range(len(supply.moments)), repeat=len(spans)):
        yield numbers, filler.laid(tuple(zip(spans, numbers, strict=True)))


@pytest.mark.parametrize("seed", range(12))
def test_every_filling_costs_what_a_plan_counts_for_it(seed):
    task, rules, spans, held = case(seed)
    choice, best = assigning(task, rules, spans, held)
    moments = best.supply.moments
    for numbers, shots in every(task, rules, spans, best.supply):
        cost = choice.cost(np.array(numbers))
        if shots is None:
            continue
        kept = sum(held.get(row, 0.0) for row in zip(spans, numbers, strict=True))
        assert cost == pytest.approx(filling_cost(task, rules, shots) - kept)
        # What is laid keeps all hard rules, which are told by others.
        assert not [one for one in breaches(task, rules, shots) if one.rule in (*HARD, "refused")]
        assert [shot.moment for shot in shots] == [moments[number] for number in numbers]


def test_few_spans_are_filled_as_well_as_can_be():
    """Nearly always, from the dearest that may be laid on, against all fillings there are."""
    lost, left = list[float](), list[float]()
    for seed in range(20):
        task, rules, spans, held = case(seed)
        choice, best = assigning(task, rules, spans, held)
        legal = [
            (choice.cost(np.array(numbers)), numbers)
            for numbers, shots in every(task, rules, spans, best.supply)
            if shots is not None
        ]
        if not legal:
            continue
        may = {numbers for _, numbers in legal}
        cost, filling = choice.better(
            np.array(max(legal)[1]), 100, allowed=lambda one, may=may: tuple(one.tolist()) in may
        )
        assert tuple(filling.tolist()) in may
        assert cost == pytest.approx(choice.cost(filling))
        assert cost >= min(legal)[0] - 1e-9
        lost.append(max(legal)[0] - min(legal)[0])
        left.append(cost - min(legal)[0])
    assert len(left) >= 12
    assert sum(gap > 1e-6 for gap in left) <= len(left) / 4
    assert sum(left) <= 0.15 * sum(lost)


def test_what_begins_badly_is_given_up_and_nothing_that_may_not_be_laid_is_found():
    """The only clip is somebody's while another speaks at one of two spans: no choice is left."""
    supply = (Moment("/a.mov", Span(0, 9), "", "WS", ("gate",), 1.0, ("ines",)),)
    spans = [Span(0, 4), Span(20, 24)]
    task = replace(task_of(("ines", 40)), supply=supply, voices=(Voice(Span(20, 24), ("tobias",)),))
    best = Best(task, replace(RULES, reuse_after=4), supply_of(task), None, tries=1)
    cost, rows = best.refilled(((spans[0], 0), (spans[1], 0)), 30)
    assert cost == np.inf
    assert rows == ((spans[0], 0), (spans[1], 0))
    assert best.shots == ()


@pytest.mark.parametrize("others", [0, 1])
def test_a_clip_never_follows_itself(others):
    """Though no two of its moments have a subject in common, and no rest is asked for."""
    supply = tuple(Moment(f"/{n}.mov", Span(0, 20), "", "WS", ()) for n in range(1 + others))
    task = replace(task_of(("ines", 40)), supply=supply)
    best = Best(task, replace(RULES, reuse_after=0), supply_of(task), None, tries=1)
    cost, rows = best.refilled(((Span(0, 4), 0), (Span(4, 8), 0)), 30)
    assert (cost < np.inf) is bool(others)
    assert len({number for _, number in rows}) == 1 + others
