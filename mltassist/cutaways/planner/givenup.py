"""Shots of an earlier run that are laid no more, each with the reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.plan import Cover
from mltassist.cutaways.planner.rules import Breach, breaches
from mltassist.cutaways.planner.stable import HARD, Placed, around, unfit, valid_shots

TRIED = 8
"""Shots of which it is tried out what a plan with them would lack: each takes a plan of its own."""


@dataclass(frozen=True, slots=True)
class GivenUp:
    """An earlier shot that a plan does without. why: in words; rule: what would not be kept with it."""

    shot: Placed
    why: str
    rule: Breach | None = None


def given_up(task: CoverTask, rules: Frames, earlier: Sequence[Placed], plan: Cover) -> Iterator[GivenUp]:
    """The earlier shots that are not in this plan, in order.

    For one that could be laid still, the cover beside it and all that stay is planned: a rule that this does
    not keep and the plan does is the reason. Otherwise the plan costs less.
    """
    there = {Placed.of(shot): shot for shot in plan.shots}
    lost = [one for one in earlier if one not in there]
    kept = [there[one] for one in earlier if one in there]
    for number, placed in enumerate(sorted(lost, key=lambda one: one.span)):
        if why := unfit(task, rules, placed):
            yield GivenUp(placed, why)
            continue
        own = next(valid_shots(task, rules, [placed]))
        rule = _lacking(task, rules, [*kept, own], plan) if number < TRIED else None
        if rule is not None:
            yield GivenUp(placed, rule.what, rule)
        elif number < TRIED:
            yield GivenUp(placed, "by the weights of the recipe the cover costs less without it")
        else:
            yield GivenUp(placed, "the cover around it is another")


def _lacking(task: CoverTask, rules: Frames, keep: Sequence[Shot], plan: Cover) -> Breach | None:
    """The rule nearest to the last of these shots that no plan found with all of them keeps."""
    own = keep[-1].span
    _, shots = around(task, rules, sorted(keep, key=lambda shot: shot.span))
    told = (breach for breach in breaches(task, rules, shots) if breach.rule not in HARD)
    lacking = (breach for breach in told if breach not in plan.breaches)
    return min(lacking, key=lambda breach: abs(2 * breach.at - own.start - own.end), default=None)
