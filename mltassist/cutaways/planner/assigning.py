"""Which clips fill the spans of a plan, many of them chosen anew at once.

Shots that lie three apart or more know nothing of each other but that each wants a clip of its own. So while
all others stay, the best clips for such a set of them are an assignment, which is found exactly. Sets are
drawn at random; at first the costs are blurred a little, so that a choice that is only good among its
neighbours is left again. (A very large neighbourhood, as in Ahuja and others 2002, with noise as in Charon
and Hudry 1993; both from memory. The assignment is scipy's.)
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from mltassist.cutaways.planner.bounds import Limits
from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.shots import alone_costs
from mltassist.cutaways.planner.spent import longest_free
from mltassist.cutaways.planner.supply import Supply
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span

NOISE = 0.3
"""The greatest blur: as much as two clips for one shot often differ by."""
TURNS = 300
"""Sets chosen anew from one blur to the next; of these the last quarter without any."""
_CALM = 0.75
_APART, _FARTHER = 3, 0.5
"""Shots that know nothing of each other lie so far apart; so often some of those of a set lie farther."""
_NEVER = 1e7
_EQUAL = 1e-9


class Assigning:
    """The fillings of these spans, which are in order and do not overlap.

    held: shots of an earlier plan by span and number of the moment, and what it costs to go without each.
    """

    def __init__(
        self,
        task: CoverTask,
        rules: Frames,
        supply: Supply,
        spans: Sequence[Span],
        *,
        limits: Limits,
        matcher: Matcher | None,
        held: Mapping[tuple[Span, int], float],
    ) -> None:
        self._supply, self._limits, self._many = supply, limits, len(spans)
        starts = np.array([span.start for span in spans], dtype=np.int64)
        ends = np.array([span.end for span in spans], dtype=np.int64)
        self._lengths, self._touching = ends - starts, ends[:-1] == starts[1:]
        cost = alone_costs(rules, supply, spans, matcher)
        cost[self._lengths[:, None] > longest_free(task, supply)[None, :]] = np.inf
        for one in task.used:
            used = one.span_on_timeline
            rested = (starts - used.end >= rules.reuse_after) | (used.start - ends >= rules.reuse_after)
            own = [number for number, moment in enumerate(supply.moments) if moment.source == one.source]
            cost[np.ix_(~rested, np.array(own, dtype=np.int64))] = np.inf
        places = {span: place for place, span in enumerate(spans)}
        for (span, number), price in held.items():
            if span in places:
                cost[places[span], number] -= price
        self._alone = np.minimum(cost, _NEVER)
        after = starts[:, None] - ends[None, :] >= rules.reuse_after
        self._near = ~(after | after.T)
        self._tastes, alike = supply.tastes(rules.weights)
        self._touches = np.where(alike, _NEVER, self._tastes)
        self._by_source = np.argsort(supply.sources, kind="stable")
        self._firsts = np.searchsorted(supply.sources[self._by_source], np.arange(len(limits.frames)))

    def cost(self, filling: Numbers) -> float:
        """What a moment for each span costs, but for what the spans cost by themselves."""
        uses = self._limits.uses
        once, twice = (filling[:-1], filling[1:]), (filling[:-2], filling[2:])
        beside = np.where(self._touching, self._touches[once], self._tastes[once]).sum()
        many = np.bincount(self._supply.sources[filling], minlength=len(self._limits.frames))
        used = uses.each * float((uses.before * many + many * (many - 1) / 2).sum())
        own = self._alone[np.arange(self._many), filling].sum()
        return float(own + beside + self._tastes[twice].sum()) + used

    def better(
        self, filling: Numbers, turns: int, *, allowed: Callable[[Numbers], bool], calm: bool = False
    ) -> tuple[float, Numbers]:
        """The best filling found from this one on, and its cost.

        turns: sets chosen anew; allowed: asked of all that would be the best, for what is not known here.
        """
        draw = np.random.default_rng(0)
        best, cost = filling, self.cost(filling) if allowed(filling) else np.inf
        now, least = best, cost
        for turn in range(turns):
            blur = 0.0 if calm else NOISE * max(0.0, 1 - turn % TURNS / (TURNS * _CALM))
            steps = _APART + draw.integers(0, _APART, self._many) * (draw.random(self._many) < _FARTHER)
            chosen = np.cumsum(steps) - steps[0] + draw.integers(0, _APART)
            found = self._chosen_anew(now, chosen[chosen < self._many], blur, draw)
            after = self.cost(found)
            if after < cost - _EQUAL and allowed(found):
                best, cost = found, after
            if blur or after <= least + _EQUAL:
                now, least = found, after
            if turn % TURNS == TURNS - 1 or turn == turns - 1:
                cost, best = self._exchanged(cost, best, allowed)
                now, least = best, cost
        return cost, best

    def _exchanged(
        self, cost: float, best: Numbers, allowed: Callable[[Numbers], bool]
    ) -> tuple[float, Numbers]:
        """The same with clips of shots near each other exchanged, which no set holds together."""
        for one, other in ((at, at + by) for by in range(1, _APART) for at in range(self._many - by)):
            found = best.copy()
            found[[one, other]] = best[[other, one]]
            after = self.cost(found)
            if after < cost - _EQUAL and allowed(found):
                best, cost = found, after
        return cost, best

    def _chosen_anew(self, now: Numbers, places: Numbers, blur: float, draw: np.random.Generator) -> Numbers:
        """The filling with the best clips at these places while all others stay."""
        from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - it takes long to load

        limits, of_moment = self._limits, self._supply.sources
        # Of two places with one source one stays, so that no source is wanted twice.
        chosen = np.sort(places[np.unique(of_moment[now[places]], return_index=True)[1]])
        others = np.setdiff1d(np.arange(self._many), chosen)
        cost = self._beside(now, chosen)
        if blur:
            cost = cost + blur * draw.standard_normal(cost.shape)
        moments, cost = self._best_of_each(cost)
        taken, lengths = of_moment[now[others]], self._lengths[chosen]
        many = np.bincount(taken, minlength=len(limits.frames))
        left = limits.frames - np.bincount(taken, self._lengths[others], len(limits.frames))
        cost += limits.uses.each * (limits.uses.before + many)
        row, place = np.nonzero(self._near[np.ix_(chosen, others)])
        cost[row, taken[place]] = _NEVER
        cost[(lengths[:, None] > left) | (many >= limits.uses.most)] = _NEVER
        source = linear_sum_assignment(cost)[1]
        found = now.copy()
        found[chosen] = moments[np.arange(len(chosen)), source]
        return found

    def _beside(self, now: Numbers, chosen: Numbers) -> Array:
        """What every moment costs at these places beside the others: shape (places, moments)."""
        cost = self._alone[chosen].copy()
        for back in (-2, 2):
            inside = (chosen + back >= 0) & (chosen + back < self._many)
            cost[inside] += self._tastes[now[chosen[inside] + back]]
        for back in (-1, 1):
            inside = (chosen + back >= 0) & (chosen + back < self._many)
            beside = chosen[inside] + back
            touched = self._touching[np.minimum(chosen[inside], beside)]
            cost[inside] += np.where(touched[:, None], self._touches[now[beside]], self._tastes[now[beside]])
        return cost

    def _best_of_each(self, cost: Array) -> tuple[Numbers, Array]:
        """For each place and source the number of its cheapest moment, and what that costs."""
        ordered = cost[:, self._by_source]
        least = np.minimum.reduceat(ordered, self._firsts, axis=1)
        if len(self._firsts) == len(self._by_source):
            return np.broadcast_to(self._by_source, cost.shape), least
        moments = np.empty(least.shape, dtype=np.int64)
        for source, (first, end) in enumerate(
            zip(self._firsts, [*self._firsts[1:], len(self._by_source)], strict=True)
        ):
            moments[:, source] = self._by_source[first + ordered[:, first:end].argmin(axis=1)]
        return moments, least
