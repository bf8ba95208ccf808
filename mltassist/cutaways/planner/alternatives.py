"""The next best clips for every shot of a finished plan, each for its own place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.film import CoverTask, Frames, Moment, Shot
from mltassist.cutaways.planner.shots import Uses, alone_costs, free_start
from mltassist.cutaways.planner.supply import Supply
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span, without

_NONE = 1e6
"""More than any clip costs: what a place pays that gets none."""
_Array = NDArray[np.float64]


def alternatives(
    task: CoverTask,
    rules: Frames,
    supply: Supply,
    matcher: Matcher | None,
    shots: Sequence[Shot],
    *,
    many: int,
) -> tuple[tuple[Shot, ...], ...]:
    """For every shot up to `many` other clips, the best first, while all other shots stay as they are.

    What a clip costs is what the planner would have counted for it there. None of them is the shot's own, or
    shows a subject of the shot before or after it. Different places get different clips: all first
    alternatives are an assignment of least cost, and so are all second ones; only where there are fewer
    clips than places one is told again, no oftener than others, and from other frames where it has them.
    """
    found: list[list[Shot]] = [[] for _ in shots]
    if shots and supply.moments and many:
        cost = _costs_in_place(rules, supply, matcher, shots)
        spent = _spent(task, shots)
        _leave_out_unusable(rules, supply, shots, spent, cost)
        taken: dict[str, list[Span]] = {}
        for _ in range(many):
            for place, number in _assigned(supply, cost, rules.weights.used_before):
                shot = _offered(shots[place].span, supply.moments[number], taken, spent)
                match = (
                    None
                    if matcher is None
                    else matcher.match(shot.moment.subjects, shot.span, rules.match_reach)
                )
                found[place].append(replace(shot, match=match))
                same = supply.sources == supply.sources[number]
                cost[:, same] += rules.weights.used_before
                cost[place, same] = np.inf
    return tuple(tuple(row) for row in found)


def _offered(span: Span, clip: Moment, taken: dict[str, list[Span]], spent: Mapping[str, Uses]) -> Shot:
    """The clip in this place, from frames of which as few as can be were offered before."""
    seen = [frames for frames, _ in spent.get(clip.source, ())]
    offered = taken.setdefault(clip.source, [])

    def known(first: int) -> int:
        return sum(max(0, Span(first, first + span.length).shared(one).length) for one in offered)

    first = _room(clip, span, [*seen, *offered])
    if first is None:
        rooms = [part for part in without([clip.span], seen) if part.length >= span.length]
        first = min((at for part in rooms for at in (part.start, part.end - span.length)), key=known)
    offered.append(Span(first, first + span.length))
    return Shot(span, clip, first)


def _costs_in_place(rules: Frames, supply: Supply, matcher: Matcher | None, shots: Sequence[Shot]) -> _Array:
    """What each moment would cost in each place: shape (shots, moments); infinite where it may not be."""
    weights = rules.weights
    cost = alone_costs(rules, supply, [shot.span for shot in shots], matcher)
    for place, shot in enumerate(shots):
        cost[place, [moment.source == shot.moment.source for moment in supply.moments]] = np.inf
        for back in (-2, -1, 1, 2):
            if not 0 <= place + back < len(shots):
                continue
            other = shots[place + back].moment
            subject = np.array([bool(set(m.subjects) & set(other.subjects)) for m in supply.moments])
            size = np.array([m.size == other.size for m in supply.moments])
            cost[place] += weights.same_subject * subject + weights.same_size * size
            if abs(back) == 1:
                cost[place, subject | np.array([m.source == other.source for m in supply.moments])] = np.inf
    return cost


def _spent(task: CoverTask, shots: Sequence[Shot]) -> dict[str, Uses]:
    """By source: the frames that are seen in the film, each with their place."""
    spent: dict[str, Uses] = {}
    rows = [(used.source, used.span_in_source, used.span_on_timeline) for used in task.used]
    rows += [(s.moment.source, s.frames, s.span) for s in shots]
    for source, frames, place in rows:
        spent[source] = (*spent.get(source, ()), (frames, place))
    return spent


def _leave_out_unusable(
    rules: Frames, supply: Supply, shots: Sequence[Shot], spent: Mapping[str, Uses], cost: _Array
) -> None:
    """Make infinite what a moment costs where it has no frames left, or must still rest."""
    for place, moment in np.argwhere(np.isfinite(cost)).tolist():
        clip = supply.moments[moment]
        if free_start(spent.get(clip.source, ()), rules, clip, shots[place].span) is None:
            cost[place, moment] = np.inf


def _room(clip: Moment, span: Span, taken: Sequence[Span]) -> int | None:
    """The first source frame from which `span` can be filled with frames that are not taken."""
    free = (part for part in without([clip.span], taken) if part.length >= span.length)
    return next((part.start for part in free), None)


def _assigned(supply: Supply, cost: _Array, again: float) -> list[tuple[int, int]]:
    """A moment for every place that can have one, its source as seldom told as can be.

    again: what it costs more for each place where a source was told already.
    """
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - it takes long to load

    by_source = np.full((cost.shape[0], int(supply.sources.max()) + 1), np.inf)
    for number, column in zip(supply.sources.tolist(), cost.T, strict=True):
        np.minimum(by_source[:, number], column, out=by_source[:, number])
    left, found = np.flatnonzero(np.isfinite(by_source).any(axis=1)), dict[int, int]()
    while left.size:
        finite = np.minimum(by_source[left], 2 * _NONE)
        padded = np.hstack((finite, np.full((left.size, left.size), _NONE)))
        for row, source in zip(*(each.tolist() for each in linear_sum_assignment(padded)), strict=True):
            if source < by_source.shape[1] and np.isfinite(by_source[left[row], source]):
                place = int(left[row])
                found[place] = int(np.where(supply.sources == source, cost[place], np.inf).argmin())
                by_source[:, source] += again
        left = np.array([place for place in left.tolist() if place not in found], np.int64)
    return sorted(found.items())
