"""The best plan of those tried, and how much work it has cost to find it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from mltassist.cutaways.planner.assigning import TURNS, Assigning
from mltassist.cutaways.planner.bounds import Limits
from mltassist.cutaways.planner.costs import Stretch, stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.objective import division_cost, filling_cost, price_of_changes
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.paths import Rows
from mltassist.cutaways.planner.prices import source_uses
from mltassist.cutaways.planner.shots import Filler
from mltassist.cutaways.planner.spans import Division, Divisions
from mltassist.cutaways.planner.supply import Supply
from mltassist.cutaways.planner.unseen import unseen_cost, with_looks
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span

WORK = 30_000
"""Moments weighed for spans, over all divisions tried, before the best plan so far is taken."""
PATIENCE = 3_000
"""Moments weighed until what is nearly the best is good enough: a small film gets the best there is."""
GOOD = 0.0005
"""Part of the cost that is then not worth another try."""
LOOKS = 4
"""Times that looks are put into cover under which nobody is seen for too long."""
LONG, OF_EACH = 3000, 40
"""Sets of clips chosen anew for the spans of the best of many plans, at most; and for each shot of a plan: of
few there are not many sets."""
_EQUAL = 1e-9


class Best:
    """Fills divisions of one film and keeps the cheapest plan.

    held: shots that the task allows, with what it costs to do without each.
    """

    def __init__(
        self,
        task: CoverTask,
        rules: Frames,
        supply: Supply,
        matcher: Matcher | None,
        *,
        tries: int,
        held: Sequence[tuple[Shot, float]] = (),
    ) -> None:
        self.task, self._most_tries = task, tries
        self.unfilled = stretches_of(task, rules)
        self._numbers = numbers = {moment: number for number, moment in enumerate(supply.moments)}
        self.held = {(shot.span, numbers[shot.moment]): price for shot, price in held}
        begun = {(shot.span, numbers[shot.moment]): shot.source_in for shot, _ in held}
        self._filler = Filler(task, rules, supply, matcher, begun)
        self._were = tuple(held)
        self.rules = rules
        self.supply, self.matcher = supply, matcher
        self._work = self._tries = 0
        self._found = False
        self._asked: set[tuple[Span, ...]] = set()
        self.cost = 0.0
        self.shots: tuple[Shot, ...] = ()

    def begin_with(self, shots: tuple[Shot, ...]) -> None:
        """Weigh a plan that is known."""
        self._keep(shots)

    @property
    def changes(self) -> float:
        """What the best plan pays for what was held and is not in it: part of its cost."""
        return price_of_changes(self._were, self.shots)

    def fill(self, division: Division) -> bool:
        """Fill a division and keep the plan if it is the best so far; False when a better one may be left."""
        self._tries += 1
        self._work += (1 + len(division.spans)) * (1 + len(self.supply.moments))
        bare = [bare_cost(self.unfilled, span) for span in division.spans]
        filling = self._filler.fill(division.spans, bare, self._below(division.spans))
        if filling is None:
            return True
        shots = tuple(shot for shot in filling.shots if shot is not None)
        self._keep(shots)
        # A dearer filling may keep more of what is held, which it does not know of.
        return filling.closed and not price_of_changes(self._were, shots)

    def _below(self, spans: tuple[Span, ...]) -> float:
        """What clips for all of these spans must cost less than, for the best plan so far to be bettered."""
        if not self._found:
            return np.inf
        unseen = unseen_cost(self.task, self.rules, spans)
        return self.cost - _EQUAL - unseen - division_cost(self.unfilled, self.rules, spans)

    @property
    def rows(self) -> Rows:
        """The shots of the best plan by their spans, each with the number of its moment."""
        return self._rows_of(self.shots)

    @property
    def edges(self) -> list[int]:
        """The frames where its shots begin and end."""
        return sorted({edge for shot in self.shots for edge in (shot.span.start, shot.span.end)})

    @cached_property
    def limits(self) -> Limits:
        """What the sources of the supply can give."""
        uses = source_uses(self.task, self.rules, self.supply)
        return Limits.of(self.task, self.rules, self.supply, uses)

    def _rows_of(self, shots: Sequence[Shot]) -> Rows:
        return tuple((shot.span, self._numbers[shot.moment]) for shot in shots)

    def laid(self, rows: Rows) -> float:
        """Keep a plan of these shots if it can be laid and is the best so far; the cost of the best."""
        shots = self._filler.laid(rows)
        if shots is not None:
            self._keep(shots)
        return self.cost

    def _keep(self, shots: tuple[Shot, ...]) -> None:
        spans = [shot.span for shot in shots]
        cost = division_cost(self.unfilled, self.rules, spans) + filling_cost(self.task, self.rules, shots)
        cost += unseen_cost(self.task, self.rules, spans) + price_of_changes(self._were, shots)
        if not self._found or cost < self.cost - _EQUAL:
            self._found, self.cost, self.shots = True, cost, shots

    def filled(self, rows: Rows) -> float:
        """Fill the spans of a sequence as well as may be; what the best plan costs then.

        Its own clips are where that begins, though they may be used too often.
        """
        spans = tuple(span for span, _ in rows)
        if spans in self._asked:  # prices lead to the same ones again and again
            return self.cost
        self._asked.add(spans)
        if self.refilled(rows, TURNS)[0] == np.inf:
            filling = self._filler.fill(spans, [bare_cost(self.unfilled, span) for span in spans])
            shots = tuple(shot for shot in filling.shots if shot is not None) if filling else ()
            self._keep(shots)
            self.refilled(self._rows_of(shots), TURNS)
        return self.cost

    def improve(self) -> None:
        """Choose other clips for the spans of the best plan."""
        self.refilled(self.rows, LONG)

    def refilled(self, rows: Rows, turns: int, *, calm: bool = False) -> tuple[float, Rows]:
        """Choose other clips for these spans, and keep the plan if it is the best; its cost, and its shots.

        calm: only better and better ones are looked for. (`Assigning.better`)
        """
        if len(rows) < 2:
            return np.inf, rows
        spans = [span for span, _ in rows]
        choice = Assigning(
            self.task,
            self.rules,
            self.supply,
            spans,
            limits=self.limits,
            matcher=self.matcher,
            held=self.held,
        )

        def rows_of(filling: Numbers) -> Rows:
            return tuple(zip(spans, filling.tolist(), strict=True))

        begun = np.array([number for _, number in rows], dtype=np.int64)
        cost, filling = choice.better(
            begun,
            min(turns, OF_EACH * len(rows)),
            allowed=lambda one: self._filler.laid(rows_of(one)) is not None,
            calm=calm,
        )
        found = rows_of(filling)
        if cost < np.inf:
            self.laid(found)
        cost += division_cost(self.unfilled, self.rules, spans) + unseen_cost(self.task, self.rules, spans)
        return cost, found

    def look_in(self, stretches: tuple[Stretch, ...], division: Division) -> None:
        """Fill divisions with looks where this one hides everybody for too long.

        Divisions are found without regard to that limit, so that those that keep it may come late.
        """
        for _ in range(LOOKS):
            if not unseen_cost(self.task, self.rules, division.spans):
                return
            stretches = with_looks(self.task, self.rules, stretches, division.spans)
            division = first_of(stretches, self.rules)
            self.fill(division)

    def is_as_good_as(self, least: float) -> bool:
        """True when no plan costs less, or is worth looking for, where those left cost at least so much."""
        near = GOOD if self._work >= PATIENCE else 0.0
        tired = self._work >= WORK or self._tries >= self._most_tries
        return self._found and (tired or self.cost <= least * (1 + near) + _EQUAL)


def bare_cost(stretches: tuple[Stretch, ...], span: Span) -> float:
    """What it costs to leave a span open that was to be covered, about: its ends are not weighed."""
    stretch = next(one for one in stretches if one.span.covers(span))
    first, last = span.start - stretch.span.start, span.end - stretch.span.start
    opened = float(stretch.open_sum[last] - stretch.open_sum[first])
    return max(1000.0, opened - float(stretch.cover_sum[last] - stretch.cover_sum[first]))


def first_of(stretches: tuple[Stretch, ...], rules: Frames) -> Division:
    """The cheapest division."""
    return next(Divisions(stretches, rules))
