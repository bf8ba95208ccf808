"""Which clip fills each span.

Hard rules (a source frame is used once; a clip rests before it comes again; touching shots differ; what
is somebody's is not shown while another speaks) are never broken. What a filling costs is summed over its
shots: how little the words spoken name what is seen, how poor the moment is, how often its clip was used
before, and whether one of the two shots before has the same subject or size. Few spans are filled by an
exhaustive search that drops what cannot become cheapest; many by a search that keeps the best few partial
choices at every span. Both are deterministic.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from operator import attrgetter
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.film import CoverTask, Frames, Moment, Shot
from mltassist.cutaways.planner.supply import Supply
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span

BEAM = 16
BRANCH = 6
_FEW = 12
"""Spans up to which every filling is weighed."""
_STEPS = 4000
"""Partial fillings that the exhaustive search looks at before it gives up."""
BUDGET = 20_000
"""Partial fillings that it looks at for one film, over all spans it is asked to fill."""
SPENT = 40
"""Partial fillings that are still looked at for each division once those are spent."""

_Array = NDArray[np.float64]
Uses = tuple[tuple[Span, Span], ...]
"""For one source: its frames that are spent, each with their place on the timeline."""


def differ(one: Moment, other: Moment) -> bool:
    """True when two moments may stand side by side: another size, or no subject in common."""
    return one.size != other.size or not set(one.subjects) & set(other.subjects)


def alone_costs(rules: Frames, supply: Supply, spans: Sequence[Span], matcher: Matcher | None) -> _Array:
    """What each moment costs in each span, its neighbours aside: shape (spans, moments).

    Infinite where the moment is too short, was refused, or is somebody's while another speaks.
    """
    cost = np.tile(rules.weights.quality * supply.poor, (len(spans), 1))
    if matcher is not None:
        cost += rules.weights.match * (1.0 - matcher.weights(spans, supply.subjects, rules.match_reach))
    cost[[span.start == 0 for span in spans]] += rules.weights.opening * supply.closer
    lengths = np.array([span.length for span in spans], dtype=np.int64)
    cost[supply.lengths[None, :] < lengths[:, None]] = np.inf
    cost[supply.foreign(spans)] = np.inf
    return np.asarray(cost)


@dataclass(frozen=True, slots=True)
class _Partial:
    """A partial choice: (number of the moment, first source frame) for each span so far, None where bare."""

    cost: float
    chosen: tuple[tuple[int, int] | None, ...]
    spent: Mapping[str, Uses]
    uses: NDArray[np.int64]
    """How often each source has been used, by its number."""


class _Step(NamedTuple):
    """A choice that goes one span further, told before it is made: most are too dear.

    cost: of all with this one; shot: number of the moment and first source frame, None where it stays bare.
    """

    cost: float
    state: _Partial
    shot: tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class Filling:
    """A clip for every span, None where there is none.

    closed: no full filling of them costs less, or less than was asked for.
    """

    shots: tuple[Shot | None, ...]
    closed: bool = False


class Filler:
    """Fills spans of one task from its supply."""

    def __init__(
        self,
        task: CoverTask,
        rules: Frames,
        supply: Supply,
        matcher: Matcher | None,
        held: Mapping[tuple[Span, int], int] | None = None,
    ) -> None:
        self._rules, self._supply, self._matcher, self._task = rules, supply, matcher, task
        self._held = held or {}
        spent: dict[str, Uses] = {}
        for used in task.used:
            place = (used.span_in_source, used.span_on_timeline)
            spent[used.source] = (*spent.get(used.source, ()), place)
        uses = np.zeros(int(supply.sources.max(initial=-1)) + 1, dtype=np.int64)
        for moment, number in zip(supply.moments, supply.sources, strict=True):
            uses[number] = len(spent.get(moment.source, ()))
        self._start = _Partial(0.0, (), spent, uses)
        self._budget = BUDGET
        self._tastes: dict[int, tuple[_Array, _Array, NDArray[np.bool_]]] = {}

    def fill(self, spans: Sequence[Span], bare: Sequence[float], below: float = np.inf) -> Filling | None:
        """The best filling found; None where it is certain that none with all shots costs less than `below`.

        bare: what it costs to leave each span without a shot.
        """
        alone = alone_costs(self._rules, self._supply, spans, self._matcher)
        found, closed = self._search(spans, alone, below) if len(spans) <= _FEW else (None, False)
        if found is None and closed and below < np.inf:
            return None
        if found is None or not closed:
            beam = self._beam(spans, alone, bare)
            if found is None or (None not in beam.chosen and beam.cost < found.cost):
                found = beam
        rows = zip(spans, found.chosen, strict=True)
        shots = tuple(None if one is None else self._shot(span, one) for span, one in rows)
        return Filling(shots, closed)

    def laid(self, rows: Sequence[tuple[Span, int]]) -> tuple[Shot, ...] | None:
        """Shots of these moments, by their numbers, each from its first free frame; None where one has none.

        Those that are held begin where they did. The hard rules are kept.
        """
        moments, spent = self._supply.moments, dict(self._start.spent)
        begun: dict[tuple[Span, int], int] = {}
        for row in rows:
            if row in self._held:
                span, number = row
                own = replace(moments[number], span=Span(self._held[row], self._held[row] + span.length))
                if free_start(spent.get(own.source, ()), self._rules, own, span) is None:
                    return None
                begun[row] = self._held[row]
                spent[own.source] = (*spent.get(own.source, ()), (own.span, span))
        shots: list[Shot] = []
        for (span, number), foreign in zip(rows, self._foreign(rows), strict=True):
            source = moments[number].source
            start = begun.get((span, number))
            if start is None:
                start = free_start(spent.get(source, ()), self._rules, moments[number], span)
            touched = next((shot.moment for shot in shots[-1:] if shot.span.end == span.start), None)
            alike = touched is not None and (touched.source == source or not differ(touched, moments[number]))
            if start is None or alike or foreign:
                return None
            if (span, number) not in begun:
                spent[source] = (*spent.get(source, ()), (Span(start, start + span.length), span))
            shots.append(self._shot(span, (number, start)))
        return tuple(shots)

    def _foreign(self, rows: Sequence[tuple[Span, int]]) -> list[bool]:
        """Where a shot may not be seen, for who speaks or as refused."""
        table = self._supply.foreign([span for span, _ in rows])
        return [bool(table[place, number]) for place, (_, number) in enumerate(rows)]

    def _shot(self, span: Span, one: tuple[int, int]) -> Shot:
        moment = self._supply.moments[one[0]]
        reach = self._rules.match_reach
        match = None if self._matcher is None else self._matcher.match(moment.subjects, span, reach)
        return Shot(span, moment, one[1], match)

    def _next_costs(self, state: _Partial, alone: _Array, touching: bool) -> _Array:
        """What each moment costs as the next shot; infinite where it may not be."""
        supply, weights = self._supply, self._rules.weights
        cost = alone + weights.used_before * state.uses[supply.sources]
        for back, one in enumerate(reversed(state.chosen[-2:])):
            if one is None:
                continue
            subject, size, alike = self._taste(one[0])
            cost = cost + subject + size
            if touching and back == 0:  # touching shots must differ in size or in subject
                cost[alike] = np.inf
        return cost

    def _taste(self, number: int) -> tuple[_Array, _Array, NDArray[np.bool_]]:
        """What moments cost near this one for its subjects, and for its size; and which may not touch it."""
        if number not in self._tastes:
            supply, weights = self._supply, self._rules.weights
            size, subject = supply.alike(number)
            alike: NDArray[np.bool_] = (size & subject) | (supply.sources == supply.sources[number])
            self._tastes[number] = (
                np.where(subject, weights.same_subject, 0.0),
                np.where(size, weights.same_size, 0.0),
                alike,
            )
        return self._tastes[number]

    def _next(self, state: _Partial, span: Span, cost: _Array, numbers: Iterable[int]) -> Iterator[_Step]:
        """The choice with each of these moments for `span` that is legal; they come from the cheapest on."""
        for number in numbers:
            own = float(cost[number])
            if own == np.inf:
                return
            moment = self._supply.moments[number]
            start = free_start(state.spent.get(moment.source, ()), self._rules, moment, span)
            if start is not None:
                yield _Step(state.cost + own, state, (number, start))

    def _taken(self, step: _Step, span: Span) -> _Partial:
        """The choice with one more span."""
        state, shot = step.state, step.shot
        if shot is None:
            return _Partial(step.cost, (*state.chosen, None), state.spent, state.uses)
        number, start = shot
        source = self._supply.moments[number].source
        place = (Span(start, start + span.length), span)
        spent = {**state.spent, source: (*state.spent.get(source, ()), place)}
        uses = state.uses.copy()
        uses[self._supply.sources[number]] += 1
        return _Partial(step.cost, (*state.chosen, shot), spent, uses)

    def _beam(self, spans: Sequence[Span], alone: _Array, bare: Sequence[float]) -> _Partial:
        beam = [self._start]
        for place, span in enumerate(spans):
            touching = place > 0 and spans[place - 1].end == span.start
            following: list[_Step] = []
            for state in beam:
                if self._supply.moments:
                    cost = self._next_costs(state, alone[place], touching)
                    numbers = _cheapest_first(cost, 8 * BRANCH)
                    following += islice(self._next(state, span, cost, numbers), BRANCH)
                following.append(_Step(state.cost + bare[place], state, None))
            best = sorted(following, key=attrgetter("cost"))[:BEAM]
            beam = [self._taken(step, span) for step in best]
        return beam[0]

    def _search(self, spans: Sequence[Span], alone: _Array, below: float) -> tuple[_Partial | None, bool]:
        """The cheapest full filling that costs less than `below`, and whether the search came to its end."""
        if not self._supply.moments:
            return (None if spans else self._start), True
        least = alone.min(axis=1) if len(spans) else np.zeros(0)
        if np.isinf(least).any():
            return None, True
        rest = np.concatenate((np.cumsum(least[::-1])[::-1], [0.0])).tolist()
        best: _Partial | None = None
        steps = min(_STEPS, max(SPENT, self._budget))
        waiting: list[Iterator[_Step]] = []
        state = self._start
        if state.cost + rest[0] >= below:
            return None, True
        while True:
            place = len(state.chosen)
            if place == len(spans):
                best, below = state, state.cost
            else:
                steps -= 1
                self._budget -= 1
                if steps < 0:
                    return best, False
                touching = place > 0 and spans[place - 1].end == spans[place].start
                cost = self._next_costs(state, alone[place], touching)
                worth = np.flatnonzero(state.cost + cost + rest[place + 1] < below)
                numbers = worth[np.argsort(cost[worth], kind="stable")].tolist()
                waiting.append(self._next(state, spans[place], cost, numbers))
            while waiting:
                step = next(waiting[-1], None)
                if step is not None and step.cost + rest[len(waiting)] < below:
                    state = self._taken(step, spans[len(waiting) - 1])
                    break
                waiting.pop()  # what follows costs no less
            else:
                return best, True


def _cheapest_first(cost: _Array, soon: int) -> Iterator[int]:
    """Numbers in order of cost, then of number; about the first `soon` are found without sorting all."""
    since = 0
    if soon < len(cost):
        few = np.flatnonzero(cost <= np.partition(cost, soon)[soon])
        yield from few[np.argsort(cost[few], kind="stable")].tolist()
        since = len(few)
    yield from np.argsort(cost, kind="stable")[since:].tolist()


def free_start(spent: Uses, rules: Frames, moment: Moment, span: Span) -> int | None:
    """First source frame from which `span` can be filled with frames nobody has used."""
    first, last = span.start - rules.reuse_after, span.end + rules.reuse_after
    if any(place.start < last and first < place.end for _, place in spent):
        return None
    start, end = moment.span.start, moment.span.end
    holes = (frames for frames, _ in spent if frames.length > 0)
    for hole in sorted(holes, key=attrgetter("start")):
        if min(hole.start, end) - start >= span.length:
            break
        start = max(start, hole.end)
    return start if end - start >= span.length else None
