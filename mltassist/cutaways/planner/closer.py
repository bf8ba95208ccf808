"""Better plans, and a proof of how near the best they are, where a film is short enough.

Prices on what clips can give rise step by step; the cheapest sequence of shots at each of them shows where
shots of a good plan lie. Its spans are filled, many clips at once; parts of it are exchanged with the best
plan; and windows of that are planned anew. At the end the prices tell what no plan costs less than, with
every frame of the film for a boundary.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from itertools import chain

import numpy as np

from mltassist.cutaways.planner.best import Best
from mltassist.cutaways.planner.bounds import EACH, LARGEST, NEAR, Ascent, Priced, climb, raise_bound
from mltassist.cutaways.planner.columns import Columns, columns_of
from mltassist.cutaways.planner.crossing import cross
from mltassist.cutaways.planner.objective import division_cost
from mltassist.cutaways.planner.packing import pack, pack_in_parts
from mltassist.cutaways.planner.paths import Rows
from mltassist.cutaways.planner.prices import prices_for
from mltassist.cutaways.planner.sequences import SIZES_TOLD_APART, Sequences
from mltassist.cutaways.planner.windows import WIDE, Windows
from mltassist.cutaways.planner.worths import known_good, prices_of
from mltassist.frames import Span

_SHORT = 0.08
"""Distance to the bound, as a part of the cost, at which clips are short: shots are chosen by their gain."""
LAST_PATHS = 3
"""Of the paths that led to good prices, those whose spans are known to be good when clips are short."""
EVERY, _FINE, BOUNDARIES, FINEST = 12, 4, 1500, 2500
"""Frames between boundaries among which better plans are looked for, and where clips are short; of long films
about so many."""
CLIMB, WHOLE, KNOW, WINDOWS, SEARCH = 90_000_000, 20_000_000, 12_000_000, 30_000_000, 16_000_000
"""Shots and states gone through for prices, for plans at these, for prices where clips are short, for
windows, and for the proof."""
_FRAMES = 2_000_000
"""Frames of the film times moments up to which every frame is looked at: more do not go into a gigabyte."""
NODES = 120
"""Sequences looked at for a plan of the whole film, at most."""
TOO_HARD = 2
"""What a plan costs, in bounds, where to choose is too hard."""


def search_closely(best: Best, wanted: tuple[Span, ...], *, bound_alone: bool = False) -> float:
    """What no plan costs less than; the best plan is bettered on the way.

    wanted: the spans of the cheapest division. bound_alone: no better plans are looked for. Minus infinity
    where boundaries and moments are too many.
    """
    return _Closer(best, wanted, bound_alone=bound_alone).bound()


@dataclass(slots=True)
class _Closer:
    best: Best
    wanted: tuple[Span, ...]
    bound_alone: bool
    paths: list[tuple[Span, ...]] = field(default_factory=list)

    @property
    def _every(self) -> int:
        return max(EVERY, self.best.task.length // BOUNDARIES)

    def bound(self) -> float:
        """The bound, once better plans were looked for."""
        best, many = self.best, len(self.best.supply.moments)
        length = best.task.length
        if length // self._every * many > LARGEST // SIZES_TOLD_APART:
            return -np.inf
        if not self.bound_alone:
            best.improve()
        ascent, coarse = self._climbed()
        more: Ascent | None = None
        known: Columns | None = None
        if coarse or best.cost - ascent.bound > _SHORT * best.cost:
            more, known = self._short_of_clips(ascent)
        if not self.bound_alone and best.cost - ascent.bound > NEAR * best.cost:
            self._windows(more or ascent)
        if length * many > _FRAMES:
            return -np.inf
        whole = self._sequences(1)
        others = [ascent.best] if more else []
        ascent, priced = Ascent((more or ascent).best), Priced(whole, best.supply, best.limits)
        # Where it is too hard prices found on fewer boundaries are worth little here.
        if more and known and best.cost > TOO_HARD * more.bound:
            self._known_good(whole, ascent, {*known.spans}, SEARCH / 4)
        bound = raise_bound(whole, priced, ascent, best.cost, work=SEARCH, others=others)
        if not self.bound_alone and best.cost - bound > NEAR * best.cost:
            # Among fewer boundaries the best plan may be another one.
            best.filled(whole.cheapest(priced.entry(ascent.best)).shots)
            self._whole(whole, ascent)
        return bound

    def _sequences(self, every: int) -> Sequences:
        best = self.best
        return Sequences(best.task, best.rules, best.supply, best.matcher, every=every, held=best.held)

    def _climbed(self) -> tuple[Ascent, bool]:
        """The best prices found, with plans on the way; and whether boundaries were too few for one."""
        best, sequences = self.best, self._sequences(self._every)
        priced = Priced(sequences, best.supply, best.limits)
        begin = priced.begin(prices_for(best.rules, best.supply, best.limits.uses, self.wanted, best.matcher))
        cheapest = sequences.cheapest(priced.entry(begin))
        coarse = cheapest.cost - priced.earned(begin) > best.cost
        if coarse:
            sequences.look_closer(best.edges, 1)
        ascent = Ascent(begin)

        def fill(rows: Rows) -> float:
            self.paths.append(tuple(span for span, _ in rows))
            return best.cost if self.bound_alone else best.filled(rows)

        first = None if coarse else cheapest
        climb(sequences, priced, ascent, best.cost, fill=fill, work=CLIMB, first=first)
        self._better()
        if not self.bound_alone and best.cost - ascent.bound > NEAR * best.cost:
            self._whole(sequences, ascent)
        return ascent, coarse

    def _whole(self, sequences: Sequences, ascent: Ascent) -> None:
        """All of the best plan planned anew among what is left of these boundaries and moments."""
        nodes = min(NODES, int(WHOLE // (sequences.size + EACH * sequences.boundaries)))
        Windows(self.best, sequences, ascent.best).whole(nodes)

    def _better(self) -> None:
        """Other clips for the best plan, and parts of it exchanged."""
        if not self.bound_alone:
            self.best.improve()
            cross(self.best, self.paths)

    def _short_of_clips(self, ascent: Ascent) -> tuple[Ascent, Columns | None]:
        """Prices and plans where clips are short: much hangs on a few frames more or less."""
        best = self.best
        sequences = self._sequences(max(_FINE, best.task.length // FINEST))
        sequences.look_closer(best.edges, 1)
        more = Ascent(ascent.best)
        spans = {*self.wanted, *(shot.span for shot in best.shots)}
        spans.update(chain.from_iterable(self.paths[-LAST_PATHS:]))
        known = self._known_good(sequences, more, spans, KNOW)
        if not self.bound_alone:
            self._packed(known, TOO_HARD * more.bound)
            self._better()
        return more, known

    def _known_good(
        self, sequences: Sequences, ascent: Ascent, spans: set[Span], work: float
    ) -> Columns | None:
        best = self.best
        columns = partial(columns_of, best.task, best.rules, best.supply, best.limits, best.matcher)
        return known_good(
            sequences,
            Priced(sequences, best.supply, best.limits),
            ascent,
            best.cost,
            spans,
            columns=lambda spans: columns(spans=spans),
            prices=partial(prices_of, supply=best.supply, limits=best.limits, ways=set[int]()),
            work=work,
        )

    def _packed(self, columns: Columns | None, enough: float) -> None:
        """Lay the best choice of these shots; where that costs more than enough it is made in parts, too."""
        best = self.best
        opened = division_cost(best.unfilled, best.rules, ())
        told = columns, best.rules, best.supply, best.limits, opened
        for way in (pack, partial(pack_in_parts, begun=best.rows, enough=enough)):
            rows = way(*told)
            best.laid(rows)  # once filled anew it knows of repeated subjects and sizes
            best.filled(rows)
            if best.cost <= enough:
                break

    def _windows(self, ascent: Ascent) -> None:
        """Windows of the best plan, planned anew at the best prices; of a short film one is the whole."""
        if self.best.task.length <= WIDE * self.best.rules.shot_ideal:
            return
        Windows(self.best, self._sequences(self._every), ascent.best).search(WINDOWS)
        self._better()
