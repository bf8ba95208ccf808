"""How near a plan is to the best: prices on what clips can give, and sequences at these prices.

A clip can be used only so often (and each use costs more), not twice within its rest, and not for more frames
than it has. Each of these limits gets a price that shots pay: then no plan costs less than the cheapest
sequence at these prices, less all that the limits can earn. (Lagrangian relaxation, as in Held and Karp
1971; steps by the distance to the best plan known, as in Polyak 1969, along the mean of what paths
overdraw, as in Barahona and Anbil 2000; formulas from memory.) What no cheaper plan can go through is
dropped as soon as it is known, so that every further step is quicker.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.cutaways.planner.fitting import weighings
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.paths import Entry, Path, Rows
from mltassist.cutaways.planner.prices import Uses
from mltassist.cutaways.planner.sequences import Sequences
from mltassist.cutaways.planner.supply import Supply
from mltassist.frames import Span, joined, without

Fill = Callable[[Rows], float]
"""Fills the spans of a sequence with clips and tells the cost of the best plan so far."""
_EQUAL = 1e-6
_STEPS = 100
POINTS = 20
"""Points within the rest of a clip at which it must not lie twice."""
LARGEST = 4_000_000
"""Shots and states of one search above which it takes too long."""
EACH = 300
"""What the work at one boundary comes to besides, in the same measure."""
NEAR = 0.0005
"""Part of the cost that is not worth another step."""
_FIRST, _MOST, _LEAST = 0.5, 2.0, 0.002
"""Length of the first, the longest and the shortest step, as a part of the way to the best plan's cost."""
WAY = 0.1
"""The longest way that is aimed at, as a part of the bound: the best plan known may be a very bad one."""
MEAN = 0.1
"""What the last path counts in the mean of all, whose overdraft is the direction."""
_CLEARLY = 0.05
"""Part of a clip more than there is of it, from which a way to weigh lengths is of use."""
_FAR = 0.1
"""Part of the distance by which a step that falls behind was far too long."""
_AGAIN = 0.85
"""What cannot be part of a good plan is looked for once the distance has shrunk so."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What sources can give, by their numbers.

    frames: of each that can be shown. rest: frames from the end of a use to the next one: at any frame of the
    film no more than one use lies or rests. That is asked of every `apart`-th frame, `points` in all.
    weighed: ways to weigh shots by their lengths, and the source of each: what fits together weighs 1.
    """

    uses: Uses
    frames: Array
    rest: int
    ideal: int
    apart: int
    points: int
    weighed: Array
    weighed_of: Numbers

    @staticmethod
    def of(task: CoverTask, rules: Frames, supply: Supply, uses: Uses) -> Limits:
        """The limits of a task."""
        spans: defaultdict[int, list[Span]] = defaultdict(list)
        for number, moment in zip(supply.sources.tolist(), supply.moments, strict=True):
            taken = [used.span_in_source for used in task.used if used.source == moment.source]
            spans[number] += without([moment.span], taken)
        frames = [sum(span.length for span in joined(spans[number])) for number in range(len(uses.most))]
        apart = max(rules.shot_min, rules.reuse_after // POINTS)
        points = -(-task.length // apart)
        ways = [
            (number, way)
            for number, (shown, most) in enumerate(zip(frames, uses.most.tolist(), strict=True))
            for way in weighings(shown, most, rules.shot_min, rules.shot_span_max)
        ]
        return Limits(
            uses,
            np.array(frames, float),
            rules.reuse_after,
            rules.shot_ideal,
            apart,
            points,
            np.array([way for _, way in ways]).reshape(-1, rules.shot_span_max + 1),
            np.array([number for number, _ in ways], dtype=np.int64),
        )

    def before(self, frames: Numbers) -> Numbers:
        """How many points lie before each frame."""
        return np.minimum(-(-frames // self.apart), self.points)


@dataclass(frozen=True, slots=True)
class Prices:
    """Prices by source: of a use, of lying or resting at each point, of `ideal` frames shown.

    weighed: prices on every way of weighing lengths.
    """

    use: Array
    point: Array
    length: Array
    weighed: Array

    def moved(self, by: Prices, stride: float) -> Prices:
        """Prices a step further, none below nothing."""
        return Prices(
            np.maximum(0.0, self.use + stride * by.use),
            np.maximum(0.0, self.point + stride * by.point),
            np.maximum(0.0, self.length + stride * by.length),
            np.maximum(0.0, self.weighed + stride * by.weighed),
        )

    def plus(self, other: Prices, part: float) -> Prices:
        """The sum with a part of others."""
        return Prices(
            self.use + part * other.use,
            self.point + part * other.point,
            self.length + part * other.length,
            self.weighed + part * other.weighed,
        )

    def along(self, other: Prices) -> float:
        """The sum of all products with others."""
        return float(
            (self.use * other.use).sum()
            + (self.point * other.point).sum()
            + (self.length * other.length).sum()
            + (self.weighed * other.weighed).sum()
        )


class Priced:
    """Sequences at prices."""

    def __init__(self, sequences: Sequences, supply: Supply, limits: Limits) -> None:
        self._sequences, self._limits, self._sources = sequences, limits, supply.sources

    def begin(self, use: Array) -> Prices:
        """Prices on uses alone."""
        limits = self._limits
        return Prices(
            use, np.zeros((len(use), limits.points)), np.zeros(len(use)), np.zeros(len(limits.weighed))
        )

    def entry(self, prices: Prices) -> Entry:
        """What shots pay."""
        sources, limits = self._sources[self._sequences.moments], self._limits
        before = np.concatenate((np.zeros((len(prices.use), 1)), np.cumsum(prices.point, axis=1)), axis=1)
        begins, ends = [], []
        for stretch, own in zip(self._sequences.stretches, self._sequences.own_costs(), strict=True):
            frames = np.arange(stretch.span.start, stretch.span.end + 1)
            shown = np.arange(stretch.length + 1)[:, None] * (prices.length[sources] / limits.ideal)
            # A shot pays for what lies from its beginning to the end of its rest: the one less the other.
            begins.append(own + prices.use[sources] - before[sources][:, limits.before(frames)].T - shown)
            ends.append(before[sources][:, limits.before(frames + limits.rest)].T + shown)
        return Entry(tuple(begins), tuple(ends), self._by_length(prices, sources))

    def _by_length(self, prices: Prices, sources: Numbers) -> Array | None:
        """What shots of each length pay as they are weighed: shape (lengths, moments)."""
        limits, some = self._limits, np.flatnonzero(prices.weighed)
        if not len(some):
            return None
        found = np.zeros((len(prices.use), limits.weighed.shape[1]))
        np.add.at(found, limits.weighed_of[some], prices.weighed[some, None] * limits.weighed[some])
        return np.ascontiguousarray(found[sources].T)

    def earned(self, prices: Prices) -> float:
        """The most that all limits can earn at these prices."""
        frames = float((prices.length * self._limits.frames).sum()) / self._limits.ideal
        uses = float(self._limits.uses.earned(prices.use).sum())
        return uses + float(prices.point.sum()) + frames + float(prices.weighed.sum())

    def used(self, path: Path) -> Prices:
        """How often each limit is drawn on by a path, as the slope of its prices counts it."""
        limits, many = self._limits, len(self._limits.frames)
        sources = self._sources[[moment for _, moment in path.shots]]
        point = np.zeros((many, limits.points))
        starts = np.array([span.start for span, _ in path.shots], dtype=np.int64)
        ends = np.array([span.end + limits.rest for span, _ in path.shots], dtype=np.int64)
        rows = zip(sources.tolist(), limits.before(starts), limits.before(ends), strict=True)
        for source, first, last in rows:
            point[source, first:last] += 1.0
        lengths = [span.length for span, _ in path.shots]
        use = np.bincount(sources, minlength=many).astype(float)
        weighed = np.zeros(len(limits.weighed))
        for source, length in zip(sources.tolist(), lengths, strict=True):
            own = limits.weighed_of == source
            weighed[own] += limits.weighed[own, length]
        return Prices(use, point, np.bincount(sources, lengths, many) / limits.ideal, weighed)

    def slope(self, prices: Prices, used: Prices) -> Prices:
        """By how much each limit is overdrawn; nothing where it is not and costs nothing."""
        limits = self._limits
        over = used.plus(
            Prices(limits.uses.offered(prices.use), np.ones(1), limits.frames / limits.ideal, np.ones(1)), -1
        )
        return Prices(
            np.where((prices.use > 0) | (over.use > 0), over.use, 0.0),
            np.where((prices.point > 0) | (over.point > 0), over.point, 0.0),
            np.where((prices.length > 0) | (over.length > 0), over.length, 0.0),
            np.where((prices.weighed > 0) | self._most_overdrawn(over.weighed), over.weighed, 0.0),
        )

    def _most_overdrawn(self, over: Array) -> NDArray[np.bool_]:
        """Of each source the ways by which it gives too much most clearly: of all there are too many."""
        most = np.zeros(len(self._limits.frames))
        np.maximum.at(most, self._limits.weighed_of, over)
        return np.asarray(over >= np.maximum(most[self._limits.weighed_of], _CLEARLY))


class Ascent:
    """Prices on their way up: steps from the best ones by the mean of what paths overdraw."""

    def __init__(self, prices: Prices) -> None:
        self.prices = self.best = prices
        self.bound = -np.inf
        self._part, self._stalled = _FIRST, 0
        self._mean: Prices | None = None

    def weigh(self, least: float, cost: float) -> None:
        """What no plan costs less than at these prices; cost: of the best plan known."""
        gained, left = least - self.bound, cost - self.bound
        if gained > 0:
            self.bound, self.best, self._stalled = least, self.prices, 0
            if gained > NEAR * left:
                self._part = min(_MOST, self._part * 1.1)
            return
        self._stalled += 1
        if gained < -_FAR * left:
            self._part = max(_LEAST, self._part / 2)
        elif self._stalled % 5 == 0:
            self._part = max(_LEAST, self._part * 0.7)

    def step(self, priced: Priced, path: Path, cost: float) -> bool:
        """Go on to other prices; False where nothing is overdrawn at the best ones."""
        used = priced.used(path)
        self._mean = used if self._mean is None else self._mean.plus(self._mean, -MEAN).plus(used, MEAN)
        slope = priced.slope(self.best, self._mean)
        size = slope.along(slope)
        if size:
            way = min(cost - self.bound, WAY * (1.0 + abs(self.bound)))
            self.prices = self.best.moved(slope, self._part * way / size)
        return bool(size)


def climb(
    sequences: Sequences,
    priced: Priced,
    ascent: Ascent,
    cost: float,
    *,
    fill: Fill,
    work: float,
    first: Path | None = None,
) -> float:
    """Better prices, from those that an ascent begins with; and the cost of the best plan by then.

    cost: of the best plan known; `fill` may find better ones on the way. work: shots and states that are
    gone through. first: the cheapest sequence at the prices to begin with, where it is known.
    """
    dropped = np.inf
    for _ in range(_STEPS):
        work -= sequences.size + EACH * sequences.boundaries
        if work < 0 or cost - ascent.bound <= NEAR * cost:
            break
        entry, earned = priced.entry(ascent.prices), priced.earned(ascent.prices)
        path = first or sequences.cheapest(entry)
        first = None
        if path.cost == np.inf:
            break
        cost = min(cost, fill(path.shots))
        ascent.weigh(path.cost - earned, cost)
        left = cost + earned - path.cost
        if left < _AGAIN * dropped:
            sequences.drop(entry, cost + earned + _EQUAL)
            dropped = left
        # What comes twice at bad prices need not be watched: every subject makes all further steps slower.
        good = path.cost - earned >= ascent.bound - _FAR * (cost - ascent.bound)
        if not (good and sequences.watch(path)) and not ascent.step(priced, path, cost):
            break
    return cost


def raise_bound(
    sequences: Sequences,
    priced: Priced,
    ascent: Ascent,
    cost: float,
    *,
    work: float,
    others: Sequence[Prices] = (),
) -> float:
    """What no plan costs less than, from prices that an ascent has found, or these others.

    cost: of the best plan known.
    """
    waiting = list(others)
    dropped = np.inf
    for _ in range(_STEPS):
        work -= sequences.size + EACH * sequences.boundaries
        if work < 0 or cost - ascent.bound <= NEAR * cost:
            break
        entry, earned = priced.entry(ascent.prices), priced.earned(ascent.prices)
        path = sequences.cheapest(entry)
        if path.cost == np.inf:  # all that is left costs more than the best plan
            return cost
        ascent.weigh(path.cost - earned, cost)
        left = cost + earned - path.cost
        if left < _AGAIN * dropped:
            sequences.drop(entry, cost + earned + _EQUAL)
            dropped = left
        if sequences.watch(path):
            continue
        if waiting:
            ascent.prices = waiting.pop()
        elif not ascent.step(priced, path, cost):
            break
    return float(min(ascent.bound, cost))
