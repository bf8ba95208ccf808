"""The cover plan: shots over every jump cut and under all narration.

Divisions of the film are taken from the cheapest on, each priced as if every shot could be filled by the
best clip there is, clips that many shots want at a price (`plan.prices`), and filled with clips. No plan
can cost less than the cheapest division not yet tried; so once the best plan found costs no more than that,
it is proven best, and otherwise the difference bounds what is left to gain. Where a film wants more shots
than its supply can fill, each is given a price, so that the divisions tried lay only as many, where they
are needed most.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from mltassist.cutaways.planner.alternatives import alternatives as other_clips
from mltassist.cutaways.planner.best import Best, first_of
from mltassist.cutaways.planner.bounds import NEAR
from mltassist.cutaways.planner.closer import search_closely
from mltassist.cutaways.planner.costs import Stretch, stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.prices import floor_at, prices_for, source_uses
from mltassist.cutaways.planner.rules import Breach, breaches
from mltassist.cutaways.planner.spans import Division, Divisions
from mltassist.cutaways.planner.supply import Supply, supply_of
from mltassist.frames import Span, without

TRIES = 800
"""Divisions tried at most."""
PRICES = 8
"""Prices tried until the film wants no more shots than there are."""
_EQUAL = 1e-9


@dataclass(frozen=True, slots=True)
class Cover:
    """A finished plan.

    bare: spans that should have a shot and have none for want of supply. cost: by the weights of the
    recipe; bound: what no plan can cost less than. others: for every shot, the next best clips.
    """

    shots: tuple[Shot, ...]
    bare: tuple[Span, ...]
    breaches: tuple[Breach, ...]
    cost: float = 0.0
    bound: float = 0.0
    others: tuple[tuple[Shot, ...], ...] = ()

    @property
    def gap(self) -> float:
        """Part of the cost that a better plan might save at most; 0 when this one is proven best."""
        return max(0.0, self.cost - self.bound) / self.cost if self.cost > _EQUAL else 0.0

    @property
    def further_breaches(self) -> tuple[Breach, ...]:
        """The breaches that say more than that a bare span has no shot."""
        bare = ("cover every jump cut", "cover narration", "no black")
        return tuple(
            breach
            for breach in self.breaches
            if breach.rule not in bare or not any(breach.at in span for span in self.bare)
        )


def plan_cover(
    task: CoverTask,
    rules: Frames,
    *,
    alternatives: int = 0,
    closely: bool = False,
    tries: int = TRIES,
    held: Sequence[tuple[Shot, float]] = (),
    known: tuple[Shot, ...] | None = None,
    bound_alone: bool = False,
) -> Cover:
    """Lay shots by the rules. The same task gives the same plan.

    Where supply runs out, spans stay bare and are named; every rule that is not kept is named too.
    alternatives: how many other clips are told for every shot. closely: a few seconds more go into better
    plans of films that are short enough, and into a proof of how near the best they are. tries: divisions
    that are filled at most, beside those that look for looks. held: shots that the task allows, with what it
    costs to do without each, which is told neither in the cost nor in the bound; known: a plan to begin with.
    bound_alone: nothing is asked but how cheap a plan might be, so that no better ones are looked for.
    """
    supply = supply_of(task)
    matcher = task.matcher(supply.subjects)
    best = Best(task, _within(rules, supply), supply, matcher, tries=tries, held=held)
    if known is not None:
        best.begin_with(known)
    uses = source_uses(task, rules, supply)
    stretches = stretches_of(task, rules, floor_at(task, rules, supply, matcher, uses.free))
    rules = best.rules
    most, earned = int(uses.most.sum()), 0.0
    wanted, cheap, price = first_of(stretches, rules).spans, 0.0, 0.0
    if len(wanted) <= most:
        prices = prices_for(rules, supply, uses, wanted, matcher)
        stretches = stretches_of(task, rules, floor_at(task, rules, supply, matcher, prices))
        earned = float(uses.earned(prices).sum())
    tried = Divisions(stretches, rules)
    first = next(tried)
    wanted = first.spans
    if len(wanted) > most:
        cheap, price = _prices(stretches, rules, most)
        tried = Divisions(_dearer(stretches, price), rules, most=most)
        first = next(tried, Division((), tried.bound))
    bound = np.inf  # of the divisions whose fillings were not all weighed
    if cheap < price:  # a few shots too many: the worst places to leave bare are told by filling them
        best.fill(first_of(_dearer(stretches, cheap), rules))
    best.look_in(_dearer(stretches, price), first)
    for division in chain([first], tried):
        least = division.cost - price * most - earned
        if best.is_as_good_as(least):
            bound = min(bound, least)
            break
        if not best.fill(division):
            bound = min(bound, least)
    else:
        bound = min(bound, tried.bound - price * most - earned)
    if closely and supply.moments and best.cost - bound > NEAR * best.cost:
        bound = max(bound, search_closely(best, wanted, bound_alone=bound_alone))
    cost, shots = best.cost - best.changes, best.shots
    bare = tuple(span for span in wanted if is_bare(task, shots, span))
    others = other_clips(task, rules, supply, matcher, shots, many=alternatives)
    bound = min(bound - best.changes, cost)
    return Cover(shots, bare, breaches(task, rules, shots), cost, bound, others)


def _within(rules: Frames, supply: Supply) -> Frames:
    """The rules with no shot longer than the longest moment."""
    longest = int(supply.lengths.max(initial=0))
    if longest < rules.shot_min:
        return rules  # nothing can be laid at all; what is missing is told by the rules as they are
    return replace(rules, shot_span_max=min(rules.shot_span_max, longest))


def _dearer(stretches: tuple[Stretch, ...], price: float) -> tuple[Stretch, ...]:
    """The same stretches where every shot costs so much more."""
    return tuple(replace(stretch, base=stretch.base + price) for stretch in stretches)


def _prices(stretches: tuple[Stretch, ...], rules: Frames, most: int) -> tuple[float, float]:
    """Two prices on every shot, near each other, at which a film wants too many and not too many of them.

    With the second the divisions lay their shots where they are needed most; and as no plan has more than
    `most` shots, what a division costs less `most` prices still bounds what any plan costs.
    """
    low, high = 0.0, 2 * rules.weights.bare_cut + 100 * rules.weights.bare_narration
    for _ in range(PRICES):
        middle = (low * high) ** 0.5 if low else high / 64
        if len(first_of(_dearer(stretches, middle), rules).spans) <= most:
            high = middle
        else:
            low = middle
    return low, high


def is_bare(task: CoverTask, shots: tuple[Shot, ...], span: Span) -> bool:
    """True for a span that should be covered and is not, for a cut, narration or a split edit in it."""
    cover = [shot.span for shot in shots]
    cuts = any(cut.at in span and not any(cut.at in one for one in cover) for cut in task.cuts)
    needing = [part for part in (span.shared(said) for said in task.never_bare) if part.length > 0]
    return cuts or bool(without(needing, cover))
