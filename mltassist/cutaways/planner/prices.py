"""What each clip is worth to the shots that want it: prices that bound the cost of every cover plan.

Every shot is priced by the best clip that could fill it; but many shots may want the same one, which can be
used only so often, each time for more. Put a price on each use of a clip: then no plan costs less than its
shots do at these prices, less all that its clips can earn. (Lagrangian relaxation of the limits on use, as
in Held and Karp 1971; formula from memory.) The bound holds for any prices; it is best where each clip is
wanted as often as it can be used, and these prices are approached by subgradient steps.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.costs import Floor
from mltassist.cutaways.planner.film import CoverTask, Frames, Moment
from mltassist.cutaways.planner.shots import alone_costs
from mltassist.cutaways.planner.supply import Supply
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span, joined

_STEPS = 300
_NEAR = 40
"""Clips that are weighed for each span while prices are looked for; all count in the bound."""
SPANS = 2500
"""Spans from which prices are made; of longer films every second one, or third, stands for the others."""

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Uses:
    """How often each source can be used at most, and what each further use of it costs. By its number."""

    most: NDArray[np.int64]
    before: NDArray[np.int64]
    each: float

    @property
    def free(self) -> _Array:
        """The prices at which every use costs nothing."""
        return np.zeros(len(self.most))

    def earned(self, prices: _Array) -> _Array:
        """The most that each source can earn at these prices: over all numbers of uses, price less cost."""
        found = np.zeros(len(prices))
        for use in range(int(self.most.max(initial=0))):
            gain = prices - self.each * (self.before + use)
            found += np.where(use < self.most, np.maximum(0.0, gain), 0.0)
        return found

    def offered(self, prices: _Array) -> _Array:
        """How many uses of each source earn something at these prices."""
        if not self.each:
            return np.where(prices > 0, self.most, 0).astype(np.float64)
        return np.clip(np.ceil(prices / self.each - self.before), 0, self.most).astype(np.float64)


def source_uses(task: CoverTask, rules: Frames, supply: Supply) -> Uses:
    """The uses of every source: by its frames, by the rest it needs, and by what the editor has laid."""
    by_source: defaultdict[int, list[Moment]] = defaultdict(list)
    for number, moment in zip(supply.sources.tolist(), supply.moments, strict=True):
        by_source[number].append(moment)
    laid = Counter(used.source for used in task.used)
    most = [_most_of(task, rules, by_source[number]) for number in range(len(by_source))]
    before = [laid[by_source[number][0].source] for number in range(len(by_source))]
    return Uses(np.array(most, np.int64), np.array(before, np.int64), rules.weights.used_before)


def _most_of(task: CoverTask, rules: Frames, moments: list[Moment]) -> int:
    """How many shots one clip can fill at most."""
    rests = 1 + (task.length - 1) // (rules.reuse_after + rules.shot_min) if task.length else 0
    spans = [moment.span for moment in moments]  # which may overlap
    apart = sum(span.length // rules.shot_min for span in spans)
    together = sum(span.length // rules.shot_min for span in joined(spans))
    return min(apart, together, rests)


def prices_for(
    rules: Frames, supply: Supply, uses: Uses, spans: Sequence[Span], matcher: Matcher | None
) -> _Array:
    """Prices by source number at which about as many of these spans want a clip as it can fill."""
    prices = uses.free
    if not len(prices) or not spans:
        return prices
    every = -(-len(spans) // SPANS)
    cost = _by_source(alone_costs(rules, supply, spans[::every], matcher), supply, len(prices))
    usable = np.isfinite(cost)
    cost = np.where(usable, cost, 1e6)
    level = prices = _level(cost.min(axis=0), uses, len(spans))
    if matcher is None:
        return level
    # Many clips cost alike at that level: each span looks at others of them.
    jitter = np.random.default_rng(0).uniform(0, 0.01 * rules.weights.quality, cost.shape)
    near = np.argpartition(cost + prices + jitter, min(_NEAR, len(prices)) - 1, axis=1)[:, :_NEAR]
    whole, cost = cost, np.take_along_axis(cost, near, axis=1)
    highest = 2 * (rules.weights.match + rules.weights.quality) + uses.each * float(uses.most.max())
    best, best_bound = prices, -np.inf
    heat = 0.02 * (rules.weights.match + rules.weights.quality)
    for step in range(_STEPS):
        total = cost + prices[near]
        least = total.min(axis=1, keepdims=True)
        bound = every * float(least.sum()) - float(uses.earned(prices).sum())
        if bound > best_bound:
            best, best_bound = prices, bound
        wish = np.exp((least - total) / heat)
        wish /= wish.sum(axis=1, keepdims=True)
        wanted = every * np.bincount(near.ravel(), wish.ravel(), len(prices))
        slope = wanted - uses.offered(prices)
        stride = 0.3 * rules.weights.quality / (1 + step / 15)
        prices = np.clip(prices + stride * slope / max(1.0, float(np.abs(slope).max())), 0.0, highest)

    def proven(prices: _Array) -> float:
        return every * float((whole + prices).min(axis=1).sum()) - float(uses.earned(prices).sum())

    return max((level, best), key=proven)


def _by_source(cost: _Array, supply: Supply, sources: int) -> _Array:
    """The cheapest moment of every source: shape (spans, sources)."""
    found = np.full((cost.shape[0], sources), np.inf)
    for number, column in zip(supply.sources.tolist(), cost.T, strict=True):
        np.minimum(found[:, number], column, out=found[:, number])
    return found


def _level(own: _Array, uses: Uses, wanted: int) -> _Array:
    """Prices that make all sources that are wanted cost alike, words aside: a good place to begin."""
    offers = np.sort(
        np.concatenate(
            [
                (own + uses.each * (uses.before + use))[use < uses.most]
                for use in range(int(uses.most.max(initial=0)))
            ]
            or [np.zeros(0)]
        )
    )
    if not offers.size:
        return np.zeros(len(own))
    return np.asarray(np.maximum(0.0, offers[min(wanted, offers.size) - 1] - own))


def floor_at(
    task: CoverTask, rules: Frames, supply: Supply, matcher: Matcher | None, prices: _Array
) -> Floor:
    """What filling a shot costs at least at these prices, by the words said near it."""
    weights, reach = rules.weights, rules.match_reach
    own = weights.quality * supply.poor + prices[supply.sources] if len(supply.moments) else np.zeros(1)
    base = float(own.min())
    if matcher is None:
        return Floor(base, np.zeros(task.length), 0)
    said = np.zeros(task.length + 2 * reach)
    cheapest: dict[str, float] = {}
    for cost, moment in zip(own.tolist(), supply.moments, strict=False):
        for subject in moment.subjects:
            cheapest[subject] = min(cost, cheapest.get(subject, np.inf))
    for subject, frames, weight in matcher.occurrences():
        saved = weights.match * weight - (cheapest[subject] - base)
        inside = reach + frames[(frames >= -reach) & (frames < task.length + reach)]
        said[inside] = np.maximum(said[inside], saved)
    return Floor(base + weights.match, said, reach)
