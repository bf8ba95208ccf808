"""Where shots begin and end: the best divisions of an edit into cover and open picture.

Every stretch between pictures that the editor has laid is divided by dynamic programming over its
frames: the path of least cost is exact for the costs of `costs.py`. `Divisions` then gives the next best
ones, each with its cost, by searching back from the end with the costs of reaching every frame as exact
hints (best first, so nothing cheaper is ever left out).
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np

from mltassist.cutaways.planner.costs import (
    Array,
    Stretch,
    length_costs,
    open_parts,
    shot_parts,
)
from mltassist.cutaways.planner.film import Frames
from mltassist.frames import Span

_NEAR = 2048
"""Frames before a boundary among which open picture that ends there is looked for at first."""


@dataclass(frozen=True, slots=True)
class Reached:
    """Least cost of reaching every boundary of a stretch at the end of a shot, or of open picture.

    left: the least that leaving any boundary up to this one for open picture costs, the open frames before
    it taken off, so that adding those up to another boundary gives a bound for all that begin so early.
    """

    shot_end: Array
    open_end: Array
    left: Array

    @property
    def best(self) -> float:
        """Cost of the best division of the whole stretch."""
        return float(min(self.shot_end[-1], self.open_end[-1]))


@dataclass(frozen=True, slots=True)
class Division:
    """Spans of shots to lay over a whole edit, in order, and what they cost."""

    spans: tuple[Span, ...]
    cost: float


@dataclass(frozen=True, slots=True)
class _Tail:
    """The end of a division: spans from the first on, linked so that tails share them; `many` of them."""

    span: Span | None
    rest: _Tail | None
    many: int = 0

    def spans(self) -> tuple[Span, ...]:
        """The spans in order."""
        found, tail = [], self
        while tail.rest is not None:
            if tail.span is not None:
                found.append(tail.span)
            tail = tail.rest
        return tuple(found)


@dataclass(frozen=True, slots=True)
class _Node:
    """A boundary that the end of a division begins at: its stretch, what follows, and the tail itself."""

    number: int
    q: int
    follows: str
    cost: float
    tail: _Tail


class _Ways:
    """The parts that may end at a node, cheapest way of reaching it first.

    A long film has as many as frames, of which few are ever wanted: at first only those that begin near
    are weighed, the others when their least cost comes up; and they are sorted a handful at a time.
    """

    def __init__(
        self, node: _Node, stretch: Stretch, reach: Reached, rules: Frames, by_length: Array
    ) -> None:
        self.node = node
        self._stretch, self._reach, self._rules, self._by_length = stretch, reach, rules, by_length
        self._taken = 0
        self._weigh(max(0, node.q - _NEAR))

    def _weigh(self, since: int) -> None:
        """Weigh the shots that end here, and open picture that begins at `since` or later."""
        stretch, reach, q = self._stretch, self._reach, self.node.q
        low, cost = shot_parts(stretch, self._rules, self._by_length, q)
        starts = np.arange(low, low + len(cost))
        arrive = np.minimum(reach.shot_end, reach.open_end)[low : low + len(cost)]
        self._shots = len(cost)
        self._far = np.inf
        if self.node.follows != "open":
            starts = np.concatenate((starts, np.arange(since, q)))
            cost = np.concatenate((cost, open_parts(stretch, self._rules, q, since)))
            arrive = np.concatenate((arrive, reach.shot_end[since:q]))
            if since:
                self._far = float(reach.left[since - 1] + stretch.open_sum[q])
        self._starts = starts
        first = float(stretch.boundary[0])
        self._costs = cost + np.where(starts == 0, 0.0, stretch.boundary[starts])
        self._totals = self._costs + arrive + np.where(starts == 0, first, 0.0)
        self._order: list[int] = []

    def peek(self) -> float:
        """Cost of the next way up to here; infinite when there is none."""
        if self._taken == len(self._order):
            self._sort()
        total = float(self._totals[self._order[self._taken]]) if self._taken < len(self._order) else np.inf
        if total > self._far:
            self._weigh(0)
            self._sort()
            return self.peek()
        return total

    def _sort(self) -> None:
        wanted = min(max(16, 4 * len(self._order), self._taken + 1), len(self._totals))
        if wanted:
            nearest = np.argpartition(self._totals, wanted - 1)[:wanted]
            # Those sorted before keep their places: they are the smallest in the same order.
            nearest = nearest[np.lexsort((-self._starts[nearest], self._totals[nearest]))]
            self._order = nearest.tolist()

    def take(self) -> tuple[str, int, float]:
        """The next way: what it is, where it begins, and its cost."""
        place = self._order[self._taken]
        self._taken += 1
        kind = "shot" if place < self._shots else "open"
        return kind, int(self._starts[place]), float(self._costs[place])


EFFORT = 20_000
"""Boundaries looked at between two divisions before the search gives up."""


class Divisions:
    """Divisions of the whole edit into at most `most` shots, from the cheapest on.

    The search gives up where most of what it finds has too many shots; `bound` is then still what no
    division costs less than that has not been given, and infinite when there are no more.
    """

    def __init__(self, stretches: Sequence[Stretch], rules: Frames, *, most: int | None = None) -> None:
        self._stretches, self._rules, self._most = stretches, rules, most
        self._reached = [_reach(stretch, rules) for stretch in stretches]
        self._before = np.concatenate(([0.0], np.cumsum([r.best for r in self._reached])))
        self._by_length = length_costs(rules)
        # Of equals the newest comes first, which is nearest to its end; sums in another order are equal too.
        self._order = count(0, -1)
        self._heap: list[tuple[float, int, _Ways | Division]] = []
        if stretches:
            self._arrive(_Node(len(stretches) - 1, stretches[-1].length, "end", 0.0, _Tail(None, None)))
        else:
            self._heap.append((0.0, 0, Division((), 0.0)))

    @property
    def bound(self) -> float:
        """What every division costs at least that has not been given yet."""
        return self._heap[0][0] if self._heap else float("inf")

    def __iter__(self) -> Iterator[Division]:
        return self

    def __next__(self) -> Division:
        for _ in range(EFFORT):
            if not self._heap:
                raise StopIteration
            _, _, ways = heapq.heappop(self._heap)
            if isinstance(ways, Division):
                return ways
            kind, p, cost = ways.take()
            self._wait(ways)
            node = ways.node
            tail = node.tail
            if kind == "shot":
                span = Span(p, node.q).shifted(self._stretches[node.number].span.start)
                tail = _Tail(span, node.tail, node.tail.many + 1)
            if self._most is None or tail.many <= self._most:
                self._arrive(_Node(node.number, p, kind, node.cost + cost, tail))
        raise StopIteration

    def _arrive(self, node: _Node) -> None:
        """Go on from a node; from the beginning of a stretch to the end of the one before."""
        if node.q == 0:
            cost = node.cost + float(self._stretches[node.number].boundary[0])
            if node.number == 0:
                self._push(cost, Division(node.tail.spans(), cost))
                return
            number = node.number - 1
            node = _Node(number, self._stretches[number].length, "end", cost, node.tail)
        stretch, reached = self._stretches[node.number], self._reached[node.number]
        self._wait(_Ways(node, stretch, reached, self._rules, self._by_length))

    def _wait(self, ways: _Ways) -> None:
        total = ways.peek()
        if total < np.inf:
            self._push(total + ways.node.cost + float(self._before[ways.node.number]), ways)

    def _push(self, cost: float, what: _Ways | Division) -> None:
        heapq.heappush(self._heap, (round(cost, 6), next(self._order), what))


def _reach(stretch: Stretch, rules: Frames) -> Reached:
    """Costs of reaching every boundary.

    Open picture follows only a shot (or the start), so its neighbours are always cover. What
    `open_parts` says of one end is carried forward here for all ends at once.
    """
    total, weights = stretch.length, rules.weights
    face_min = max(1, rules.face_min)
    by_length = length_costs(rules)
    shot_end = np.full(total + 1, np.inf)
    open_end = np.full(total + 1, np.inf)
    shot_end[0] = 0.0
    leave_shot = np.full(total + 1, np.inf)  # cost of standing at p after a shot, ready for open picture
    leave_any = np.full(total + 1, np.inf)  # the same, ready for another shot
    leave_shot[0] = leave_any[0] = stretch.boundary[0]
    head = short_heads(stretch, rules)
    before_change = np.inf  # best start of open picture before the last change of picture
    since_change = np.inf  # best start since, old enough not to be a flash
    change = 0
    changes = set(stretch.changes.tolist())
    for q in range(1, total + 1):
        low, cost = shot_parts(stretch, rules, by_length, q)
        if len(cost):
            shot_end[q] = float(np.min(leave_any[low : low + len(cost)] + cost))
        aged = q - face_min
        if aged >= change:
            since_change = min(since_change, leave_shot[aged] - stretch.open_sum[aged])
        # What the editor's own pictures begin and end is no flash of ours.
        whole = 0.0 if q == total else weights.short_view
        flash = weights.short_face if stretch.face[q - 1] else 0.0
        tail = 0.0 if q - change >= face_min else min(flash, whole) if q in changes else flash
        value = min(since_change, before_change + tail)
        young = max(change, aged + 1)
        if young < q:
            recent = leave_shot[young:q] - stretch.open_sum[young:q] + flash
            if young == change and q in changes:
                recent[0] += min(flash, whole if young == 0 else weights.short_view) - flash
            value = min(value, float(np.min(recent)))
        open_end[q] = value + stretch.open_sum[q]
        leave_shot[q] = shot_end[q] + stretch.boundary[q]
        leave_any[q] = min(shot_end[q], open_end[q]) + stretch.boundary[q]
        if q in changes:
            begun = leave_shot[change:q] - stretch.open_sum[change:q] + head[change:q]
            before_change = min(before_change, float(np.min(begun)))
            since_change, change = np.inf, q
    return Reached(shot_end, open_end, np.minimum.accumulate(leave_shot - stretch.open_sum))


def short_heads(stretch: Stretch, rules: Frames) -> Array:
    """Cost of open picture that a shot begins so late in a view that its face would only flash."""
    face_min = max(1, rules.face_min)
    head = np.zeros(stretch.length + 1)
    for start, end in zip(stretch.changes, stretch.changes[1:], strict=False):
        if stretch.face[start]:
            late = max(int(start) + 1, int(end) - face_min + 1)
            head[late:end] = rules.weights.short_face
            if start > 0 and end - start < face_min:
                head[start] = rules.weights.short_view
    return head
