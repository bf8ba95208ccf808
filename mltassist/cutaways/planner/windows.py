"""Parts of a film planned anew while all else stays: where shots lie and which clips fill them, together.

What stays is held at a price that nothing outweighs, and tells which clips may come where. In what is left a
clip that comes again too soon is kept off one side or the other, or pays for another use; what costs least is
divided further (branch and bound, as in Land and Doig 1960). Windows are drawn at random, one to three at
once, so that two places can exchange their clips (large neighbourhood search, as in Shaw 1998; both from
memory).
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import count, pairwise

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.assigning import TURNS
from mltassist.cutaways.planner.best import Best
from mltassist.cutaways.planner.bounds import EACH, Priced, Prices
from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.paths import Entry
from mltassist.cutaways.planner.sequences import Sequences
from mltassist.frames import Span

WIDE = 12
"""Ordinary shots that windows are wide together."""
WINDOWS = 3
"""At once, at most."""
NODES = 60
"""Sequences looked at for one choice of windows, at most."""
IDLE, WORTH = 20, 1e-5
"""Choices in a row that bring less than this part of the cost, after which no more are made."""
DEEPER = 0.1
"""So much dearer a node may be for each division that led to it, and is still looked at first: a part of what
the first one leaves to the best plan."""
CLOSE = 2
"""Frames about the edges of a plan's shots that are looked at one by one."""
_HELD, _TOO_LONG = 1e7, 1e4
_EQUAL = 1e-6


@dataclass(frozen=True, slots=True)
class _Node:
    """kept_off: sources with the first and last frame of the film at which none of their shots begins."""

    kept_off: tuple[tuple[int, int, int], ...] = ()
    paid: frozenset[int] = frozenset()
    price: float = 0.0


class Windows:
    """The search of one film, among the boundaries of these sequences and at these prices."""

    def __init__(self, best: Best, sequences: Sequences, prices: Prices) -> None:
        self._best, self._sequences, self._frames = best, sequences, sequences.frames
        self._supply, self._limits, self._rules = best.supply, best.limits, best.rules
        self._priced, self._prices = Priced(sequences, best.supply, best.limits), prices
        self._length = int(self._frames.max(initial=0))

    def search(self, work: float) -> None:
        """Better the best plan with so much work."""
        draw, idle = np.random.default_rng(0), 0
        while work > 0 and idle < IDLE and self._length:
            before = self._best.cost
            many = int(draw.integers(1, WINDOWS + 1))
            half = max(self._rules.shot_min, WIDE * self._rules.shot_ideal // (2 * many))
            middles = sorted(draw.integers(0, self._length, many).tolist())
            spans = [Span(max(0, at - half), min(self._length, at + half)) for at in middles]
            work -= self.anew(spans, NODES)
            idle = 0 if self._best.cost < (1 - WORTH) * before else idle + 1

    def whole(self, nodes: int) -> None:
        """Plan all of the film anew, with so many sequences looked at."""
        self.anew([Span(0, self._length)], nodes)

    def anew(self, windows: list[Span], nodes: int) -> float:
        """Plan these windows anew; the work that took. nodes: sequences looked at, at most."""
        rows = self._best.rows
        stay = [row for row in rows if not any(window.covers(row[0]) for window in windows)]
        windows = [part for window in windows for part in _clear_of(window, [span for span, _ in stay])]
        edges = np.array([edge for span, _ in rows for edge in (span.start, span.end)], dtype=np.int64)
        near = (edges[:, None] + np.arange(-CLOSE, CLOSE + 1)).ravel()
        wanted = np.concatenate((self._frames, near))
        frames = np.unique(np.concatenate((wanted[_inside(wanted, windows)], edges)))
        best, sequences = self._best, self._sequences
        held = {**best.held, **dict.fromkeys(stay, _HELD)}
        sequences.of(frames, held)
        priced = self._priced.entry(self._prices)
        sources = self._supply.sources
        many, left = self._drawn(stay)
        paid, known = self._beside(stay, windows, priced, many, left)
        known += self._priced.earned(self._prices)
        waiting: list[tuple[float, int, _Node]] = [(0.0, 0, _Node())]
        order, spent, deeper = count(1), 0.0, 0.0
        staying = set(stay)
        for _ in range(nodes):
            if not waiting:
                break
            *_, node = heapq.heappop(waiting)
            spent += sequences.size + EACH * sequences.boundaries
            entry = Entry(self._kept_off(priced.begin, node, windows), priced.end, paid)
            path = sequences.cheapest(entry)
            least = path.cost - known + node.price
            if least >= best.cost - _EQUAL:
                continue
            before = best.cost
            deeper = deeper or DEEPER * (before - least)
            if best.laid(path.shots) < before - _EQUAL:
                best.refilled(best.rows, TURNS)
            uses: defaultdict[int, list[Span]] = defaultdict(list)
            for row in path.shots:
                if row not in staying:
                    uses[int(sources[row[1]])].append(row[0])
            for following in self._divided(node, uses, left):
                rank = least - deeper * len(following.kept_off)
                heapq.heappush(waiting, (rank, next(order), following))
        return spent

    def _drawn(self, stay: list[tuple[Span, int]]) -> tuple[Numbers, Array]:
        """How often what stays uses each source, and the frames of each that it does not show."""
        frames = self._limits.frames
        sources = self._supply.sources[np.array([number for _, number in stay], dtype=np.int64)]
        shown = np.bincount(sources, [span.length for span, _ in stay], len(frames))
        return np.bincount(sources, minlength=len(frames)), frames - shown

    def _beside(
        self, stay: list[tuple[Span, int]], windows: list[Span], priced: Entry, many: Numbers, left: Array
    ) -> tuple[Array, float]:
        """Forbid what does not go beside what stays; what shots pay by their length.

        Besides what that puts on top of all that stays, which no plan pays. many, left: uses of each source
        by what stays, and frames that it leaves.
        """
        rules, order = self._rules, self._sequences.moments
        of_moment = self._supply.sources[order]
        spent = (left < rules.shot_min) | (many >= self._limits.uses.most)
        self._forbid(priced.begin, windows, np.flatnonzero(spent[of_moment]), 0, self._length)
        for span, number in stay:  # none lies or rests where another does
            own = np.flatnonzero(of_moment == self._supply.sources[number])
            first = span.start - rules.reuse_after - rules.shot_min + 1
            self._forbid(priced.begin, windows, own, first, span.end + rules.reuse_after - 1)
        lengths = np.arange(rules.shot_span_max + 1)
        too_long = (lengths[:, None] > left[of_moment][None, :]) & (many[of_moment] > 0)[None, :]
        paid = np.where(too_long, _TOO_LONG, 0.0)
        place = {number: column for column, number in enumerate(order.tolist())}
        known = sum(float(paid[span.length, place[number]]) for span, number in stay)
        if priced.length is not None:
            paid = paid + priced.length
        return paid, known

    def _kept_off(self, begins: tuple[Array, ...], node: _Node, windows: list[Span]) -> tuple[Array, ...]:
        if not node.kept_off:
            return begins
        of_moment = self._supply.sources[self._sequences.moments]
        kept = tuple(begin.copy() for begin in begins)
        for source, first, last in node.kept_off:
            self._forbid(kept, windows, np.flatnonzero(of_moment == source), first, last)
        return kept

    def _forbid(
        self, begins: tuple[Array, ...], windows: list[Span], columns: Numbers, first: int, last: int
    ) -> None:
        """Let no shot of these columns begin in a window between these frames of the film.

        At the end of a window begins what stays.
        """
        for stretch, begin in zip(self._sequences.stretches, begins, strict=True):
            start = stretch.span.start
            for window in windows:
                rows = slice(
                    max(first, window.start, start) - start, max(0, min(last + 1, window.end) - start)
                )
                begin[rows, columns] = np.inf

    def _divided(self, node: _Node, uses: Mapping[int, list[Span]], left: Array) -> Iterator[_Node]:
        """The ways out of the closest two uses of a clip that cannot both be, or are not paid."""
        found: list[tuple[int, int, int, bool]] = []
        for source, spans in uses.items():
            for one, other in pairwise(spans):
                rested = other.start - one.end >= self._rules.reuse_after
                allowed = rested and one.length + other.length <= left[source]
                if not (allowed and source in node.paid):
                    between = (one.start + other.start) // 2 + 1
                    found.append((other.start - one.start, source, between, allowed))
        if not found:
            return
        _, source, between, allowed = min(found)
        for first, last in ((between, self._length), (0, between - 1)):
            yield _Node((*node.kept_off, (source, first, last)), node.paid, node.price)
        if allowed:
            price = node.price + max(0.0, self._limits.uses.each - float(self._prices.use[source]))
            yield _Node(node.kept_off, node.paid | {source}, price)


def _inside(frames: Numbers, windows: list[Span]) -> NDArray[np.bool_]:
    found = np.zeros(len(frames), dtype=bool)
    for window in windows:
        found |= (frames >= window.start) & (frames <= window.end)
    return found


def _clear_of(window: Span, spans: list[Span]) -> Iterator[Span]:
    """The window without what stays at its ends."""
    for span in spans:
        if span.overlaps(window):
            start, end = (max(window.start, span.end), window.end)
            window = Span(start, end) if span.start <= window.start else Span(window.start, span.start)
        if window.length <= 0:
            return
    yield window
