"""Plans from sequences: a clip that comes again too soon is kept off one side of the film or the other.

The cheapest sequence at good prices is nearly a plan: only few clips come again before they have rested, for
more frames than there are, or without the price of a second use. Between two such uses the film is
divided: the clip is kept off all that follows, or off all that comes before; or it may be used twice, for its
price. What costs least is divided further, the deeper the sooner (branch and bound, as in Land and Doig 1960;
from memory).
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import count, pairwise

import numpy as np

from mltassist.cutaways.planner.bounds import Priced, Prices
from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.sequences import Entry, Path, Sequences
from mltassist.frames import Span

Lay = Callable[[tuple[tuple[Span, int], ...]], float]
"""Lays the shots of a path, each with the number of its moment, and tells what the best plan costs."""
DEEP = (0.1, 0.03)
"""Part of the distance to the best plan by which a node is tried sooner for every division before it.

First hardly anything but depth counts, then what is cheap is looked at more widely.
"""
SLIGHT = 0.0005
"""Part of the cost below which the price of another use is paid without asking."""
_EQUAL = 1e-6


@dataclass(frozen=True, slots=True)
class Sources:
    """What a conflict is told by: the source of every moment, frames of each source, the rules."""

    of_moment: Numbers
    frames: Array
    rules: Frames


@dataclass(frozen=True, slots=True)
class _Conflict:
    source: int
    between: int
    """First timeline frame of the second of two sides."""
    allowed: bool
    """The clip may be used on both, at the price of another use."""


@dataclass(frozen=True, slots=True)
class _Node:
    """kept_off: sources with the first and the last timeline frame at which no shot of theirs begins."""

    kept_off: tuple[tuple[int, int, int], ...] = ()
    paid: frozenset[int] = frozenset()
    price: float = 0.0


@dataclass(frozen=True, slots=True)
class _Opened:
    """A node that is to be divided. least: what its sequence costs; depth: divisions that led to it."""

    least: float
    depth: int
    node: _Node
    conflict: _Conflict


class Dive:
    """The search for plans among the sequences at some prices. lay: is given every path on the way."""

    def __init__(
        self, sequences: Sequences, priced: Priced, prices: Prices, sources: Sources, *, lay: Lay
    ) -> None:
        self._sequences, self._priced, self._prices = sequences, priced, prices
        self._entry, self._earned = priced.entry(prices), priced.earned(prices)
        self._sources, self._lay = sources, lay
        self._best = _Node()
        self._last = max((stretch.span.end for stretch in sequences.stretches), default=0)

    def search(self, cost: float, bound: float, work: float, each: float) -> float:
        """What the best plan costs after so much work, of which a node takes `each` besides its size."""
        opened: list[_Opened] = []
        following: Iterator[_Node] = iter([_Node()])
        depth = 0
        for deep in DEEP:
            deeper, spent = deep * (cost - bound), work / len(DEEP)
            # What the last phase has left is gone through in the order of this one.
            waiting = [(one.least - deeper * one.depth, number, one) for number, one in enumerate(opened)]
            heapq.heapify(waiting)
            order = count(len(waiting))
            while spent > 0:
                for node in following:
                    spent -= self._sequences.size + each * self._sequences.boundaries
                    path = self._sequences.cheapest(self._entry_of(node))
                    if self._sequences.watch(path):
                        self._entry = self._priced.entry(self._prices)
                        path = self._sequences.cheapest(self._entry_of(node))
                    least = path.cost - self._earned + node.price
                    if least >= cost - _EQUAL:
                        continue
                    conflict = self._conflict(path, node, cost)
                    after = self._lay(path.shots)
                    if after < cost:
                        cost, self._best = after, node
                    if conflict is not None:
                        one = _Opened(least, depth, node, conflict)
                        heapq.heappush(waiting, (least - deeper * depth, next(order), one))
                        depth += 1  # its sisters come after it
                while waiting and waiting[0][2].least >= cost - _EQUAL:
                    heapq.heappop(waiting)
                if not waiting:
                    return cost
                *_, one = heapq.heappop(waiting)
                following, depth = self._divided(one), one.depth + 1
            opened = [one for *_, one in waiting]
        return cost

    def again(self) -> None:
        """Look once more for what led to the best plan, among the boundaries that there are by now."""
        self._entry = self._priced.entry(self._prices)
        self._lay(self._sequences.cheapest(self._entry_of(self._best)).shots)

    def _divided(self, opened: _Opened) -> Iterator[_Node]:
        node, conflict = opened.node, opened.conflict
        source, between = conflict.source, conflict.between
        for first, end in ((between, self._last), (0, between - 1)):
            yield replace(node, kept_off=(*node.kept_off, (source, first, end)))
        if conflict.allowed:
            price = node.price + self._sources.rules.weights.used_before
            yield replace(node, paid=node.paid | {source}, price=price)

    def _entry_of(self, node: _Node) -> Entry:
        sources, begins = self._sources.of_moment[self._sequences.moments], []
        for stretch, begin in zip(self._sequences.stretches, self._entry.begin, strict=True):
            kept = begin.copy()
            for source, first, last in node.kept_off:
                rows = slice(max(0, first - stretch.span.start), max(0, last + 1 - stretch.span.start))
                kept[rows, sources == source] = np.inf
            begins.append(kept)
        return Entry(tuple(begins), self._entry.end, self._entry.length)

    def _conflict(self, path: Path, node: _Node, cost: float) -> _Conflict | None:
        """The two uses of one clip that lie closest to each other of those that no plan can have so."""
        rules = self._sources.rules
        uses: defaultdict[int, list[Span]] = defaultdict(list)
        for span, moment in path.shots:
            uses[int(self._sources.of_moment[moment])].append(span)
        found: list[tuple[int, int, _Conflict]] = []
        for source, spans in uses.items():
            for one, other in pairwise(spans):
                rested = other.start - one.end >= rules.reuse_after
                lasts = one.length + other.length <= self._sources.frames[source]
                allowed = rested and lasts
                if allowed and (source in node.paid or rules.weights.used_before <= SLIGHT * cost):
                    continue
                between = (one.start + other.start) // 2 + 1
                found.append((other.start - one.start, source, _Conflict(source, between, allowed)))
        return min(found, key=lambda row: row[:2])[2] if found else None
