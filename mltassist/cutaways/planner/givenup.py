"""Shots of an earlier run that are laid no more, each with the reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.cutaways.planner.plan import Cover
from mltassist.cutaways.planner.rules import Breach, breaches
from mltassist.cutaways.planner.stable import Placed, unfit, valid_shots


@dataclass(frozen=True, slots=True)
class GivenUp:
    """An earlier shot that a plan does without. why: in words; rule: what would not be kept otherwise."""

    shot: Placed
    why: str
    rule: Breach | None = None


def given_up(task: CoverTask, rules: Frames, earlier: Sequence[Placed], plan: Cover) -> Iterator[GivenUp]:
    """The earlier shots that are not in this plan, in order.

    One that could be laid still has made way for the nearest rule that all earlier shots, and they alone, do
    not keep and the plan does, or for a plan that costs less.
    """
    there = {(shot.span, shot.moment.source, shot.source_in) for shot in plan.shots}
    left = breaches(task, rules, tuple(valid_shots(task, rules, earlier)))
    mended = [breach for breach in left if breach not in plan.breaches]
    for placed in sorted(earlier, key=lambda one: one.span):
        if (placed.span, placed.source, placed.source_in) in there:
            continue
        if why := unfit(task, rules, placed):
            yield GivenUp(placed, why)
            continue
        around = placed.span.grown(rules.unseen_max, rules.unseen_max)
        near = [breach for breach in mended if breach.at in around]
        if near:
            rule = min(near, key=lambda breach: abs(2 * breach.at - placed.span.start - placed.span.end))
            yield GivenUp(placed, rule.what, rule)
        else:
            yield GivenUp(placed, "by the weights of the recipe the cover costs less without it")
