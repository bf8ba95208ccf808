"""Which clip fills each span: a beam search over the spans in order of time.

Hard rules (a source frame is used once; a clip rests before it comes again; touching shots differ)
are never broken: a span for which nothing legal is left stays bare. The search keeps the best few
partial choices at every span; it is deterministic, and its result is good rather than proven best.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span, without
from mltassist.plan.film import CoverTask, Frames, Moment, Shot

BEAM = 16
BRANCH = 6
BARE = 1000.0
BARE_CUT = 400.0  # besides, for each jump cut in the span
SAME_SUBJECT = 6.0  # as one of the two shots before
SAME_SIZE = 2.0
USED_BEFORE = 4.0  # each time its clip has been used
WASTE = 0.5  # a span that leaves a stub too short to be used

Uses = tuple[tuple[Span, Span], ...]
"""For one source: its frames that are spent, each with their place on the timeline."""


@dataclass(frozen=True)
class _Supply:
    """The moments in a fixed order, and what of them can be compared all at once."""

    moments: tuple[Moment, ...]

    @cached_property
    def lengths(self) -> NDArray[np.int64]:
        """Frames of each moment."""
        return np.array([moment.span.length for moment in self.moments], dtype=np.int64)

    @cached_property
    def sources(self) -> NDArray[np.int64]:
        """A number for each moment's source."""
        numbers = {source: n for n, source in enumerate(dict.fromkeys(m.source for m in self.moments))}
        return np.array([numbers[moment.source] for moment in self.moments], dtype=np.int64)

    @cached_property
    def _sizes(self) -> NDArray[np.str_]:
        return np.array([moment.size for moment in self.moments], dtype=np.str_)

    @cached_property
    def _subjects(self) -> NDArray[np.bool_]:
        names = {name: n for n, name in enumerate(dict.fromkeys(s for m in self.moments for s in m.subjects))}
        table = np.zeros((len(self.moments), max(1, len(names))), dtype=bool)
        for row, moment in enumerate(self.moments):
            table[row, [names[subject] for subject in moment.subjects]] = True
        return table

    def same_size(self, number: int) -> NDArray[np.bool_]:
        """Which moments have the size of this one."""
        return np.asarray(self._sizes == self._sizes[number])

    def same_subject(self, number: int) -> NDArray[np.bool_]:
        """Which moments share a subject with this one."""
        return np.asarray((self._subjects & self._subjects[number]).any(axis=1))


@dataclass(frozen=True, slots=True)
class _Choice:
    """A partial choice: the numbers of its moments (None: bare), what is spent, and its cost."""

    cost: float
    chosen: tuple[tuple[int, int] | None, ...]
    """(number of the moment, first source frame) for each span so far."""
    spent: Mapping[str, Uses]
    uses: NDArray[np.int64]
    """How often each source has been used, by its number."""


def choose(task: CoverTask, rules: Frames, spans: tuple[Span, ...]) -> tuple[Shot | None, ...]:
    """A shot for each span, None where the supply has nothing that may be used there."""
    supply = _Supply(tuple(sorted(task.supply, key=lambda moment: (moment.source, moment.span))))
    spent: dict[str, Uses] = {}
    uses = np.zeros(int(supply.sources.max(initial=-1)) + 1, dtype=np.int64)
    for used in task.used:
        place = (used.span_in_source, used.span_on_timeline)
        spent[used.source] = (*spent.get(used.source, ()), place)
    for moment, number in zip(supply.moments, supply.sources, strict=True):
        uses[number] = len(spent.get(moment.source, ()))
    beam = [_Choice(0.0, (), spent, uses)]
    for place_in_row, span in enumerate(spans):
        touching = place_in_row > 0 and spans[place_in_row - 1].end == span.start
        following = [
            c for state in beam for c in _extended(task, rules, supply, state, span, touching=touching)
        ]
        beam = sorted(following, key=lambda choice: choice.cost)[:BEAM]
    return tuple(
        None if one is None else Shot(span, supply.moments[one[0]], one[1])
        for span, one in zip(spans, beam[0].chosen, strict=True)
    )


def _extended(
    task: CoverTask, rules: Frames, supply: _Supply, state: _Choice, span: Span, *, touching: bool
) -> Iterator[_Choice]:
    """The state with each of the best few legal shots for `span`, and with none."""
    if supply.moments:
        allowed = supply.lengths >= span.length
        cost = USED_BEFORE * state.uses[supply.sources]
        for back, one in enumerate(reversed(state.chosen[-2:])):
            if one is None:
                continue
            size, subject = supply.same_size(one[0]), supply.same_subject(one[0])
            cost = cost + SAME_SUBJECT * subject + SAME_SIZE * size
            if touching and back == 0:  # touching shots must differ in size or in subject
                allowed &= ~(size & subject) & (supply.sources != supply.sources[one[0]])
        candidates = np.flatnonzero(allowed)
        found = 0
        for number in candidates[np.argsort(cost[candidates], kind="stable")]:
            moment = supply.moments[number]
            source_in = _free_start(state.spent.get(moment.source, ()), rules, moment, span)
            if source_in is None:
                continue
            left = moment.span.end - source_in - span.length
            waste = WASTE * (0 < left < rules.shot_min)
            place = (Span(source_in, source_in + span.length), span)
            spent = {**state.spent, moment.source: (*state.spent.get(moment.source, ()), place)}
            uses = state.uses.copy()
            uses[supply.sources[number]] += 1
            chosen = (*state.chosen, (int(number), source_in))
            yield _Choice(state.cost + float(cost[number]) + waste, chosen, spent, uses)
            found += 1
            if found == BRANCH:
                break
    cuts = sum(cut.at in span for cut in task.cuts)
    bare = state.cost + BARE + BARE_CUT * cuts
    yield _Choice(bare, (*state.chosen, None), state.spent, state.uses)


def differ(one: Moment, other: Moment) -> bool:
    """True when two moments may stand side by side: another size, or no subject in common."""
    return one.size != other.size or not set(one.subjects) & set(other.subjects)


def _free_start(spent: Uses, rules: Frames, moment: Moment, span: Span) -> int | None:
    """First source frame from which `span` can be filled with frames nobody has used."""
    if any(place.grown(rules.reuse_after, rules.reuse_after).overlaps(span) for _, place in spent):
        return None
    free = without([moment.span], [frames for frames, _ in spent])
    return next((part.start for part in free if part.length >= span.length), None)
