"""Where in its moment a shot begins, once a plan is made: where its picture is at its best.

A plan knows how good a moment is as a whole, and takes the first frames of it that are free. An editor would
begin where the camera has settled, the picture is sharp and something happens. So every shot is moved within
the moment that it was planned from; which clip lies where, and all that a plan is judged by, stays the same.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.frames import Span, joined, without

_Array = NDArray[np.float64]

EVEN_WEIGHT, ALIVE_WEIGHT = 0.35, 0.15
"""What it is worth that nothing swerves, and that much happens, beside the worth of the frames (0 to 1)."""
AS_GOOD = 0.01
"""So much worse is as good as the best."""


@dataclass(frozen=True, slots=True)
class Course:
    """How a stretch of a clip looks from frame to frame; all arrays hold a row for each frame of `span`.

    worth: 0 to 1. swerves: what an editor wants even within a shot (where the camera turns, how bright and
    how sharp it is), shape (n, kinds), each in units of a deviation that is as bad as any. alive: how much
    happens, 0 to 1.
    """

    span: Span
    worth: _Array
    swerves: _Array
    alive: _Array

    def values(self, length: int) -> _Array:
        """What a shot of so many frames is worth, for every frame of the stretch that it can begin with."""
        spread = sum(_means(one**2, length) - _means(one, length) ** 2 for one in self.swerves.T)
        even = 1.0 - np.minimum(1.0, np.sqrt(np.maximum(spread, 0.0)))
        alive = ALIVE_WEIGHT * _means(self.alive, length)
        return np.asarray(_means(self.worth, length) + EVEN_WEIGHT * even + alive)


Courses = Mapping[str, Sequence[Course]]
"""By source: the stretches of it that were looked at."""


def begun_well(
    task: CoverTask,
    rules: Frames,
    shots: Sequence[Shot],
    courses: Courses,
    *,
    stay: Collection[Shot] = (),
    others: Iterable[Shot] = (),
) -> tuple[Shot, ...]:
    """The same shots, each from the best frame that its moment has free. stay: those that stay as they are.

    others: what is offered in place of shots, for which as much room is left. None takes a frame that is seen
    elsewhere, and of what is left of a clip as many shots of the ideal length can be made as before. Of
    beginnings that are as good one is taken that leaves room at both ends for an editor who trims, then the
    earliest. Shots of clips that were not looked at stay.
    """
    found = list(shots)
    rooms = {
        source: joined(moment.span for moment in task.supply if moment.source == source) for source in courses
    }
    taken = {
        source: [used.span_in_source for used in task.used if used.source == source] for source in courses
    }
    offered = _apart(others)
    for place, shot in enumerate(found):
        source = shot.moment.source
        course = next((c for c in courses.get(source, ()) if c.span.covers(shot.moment.span)), None)
        if course is None or shot in stay:
            continue
        beside = [one.frames for one in found if one is not shot and one.moment.source == source]
        free = without(rooms[source], [*taken[source], *beside])
        wanted = offered.get(source, ())
        found[place] = replace(shot, source_in=_best(rules, shot, course, free, wanted))
    return tuple(found)


def _apart(others: Iterable[Shot]) -> dict[str, list[Shot]]:
    """Of the shots offered, those that show no frame together, by source; the longest first."""
    found: dict[str, list[Shot]] = {}
    for one in sorted(others, key=lambda shot: (-shot.span.length, shot.span)):
        rows = found.setdefault(one.moment.source, [])
        if not any(one.frames.overlaps(row.frames) for row in rows):
            rows.append(one)
    return found


def _room_for(wanted: Iterable[Shot], parts: Iterable[Span]) -> bool:
    """True where all of these shots can be made of these parts of their clip."""
    left = list(parts)
    for shot in wanted:
        fitting = [part for part in left if part.shared(shot.moment.span).length >= shot.span.length]
        if not fitting:
            return False
        part = min(fitting, key=lambda one: (one.length, one))
        start = max(part.start, shot.moment.span.start)
        left.remove(part)
        left += without([part], [Span(start, start + shot.span.length)])
    return True


def _best(
    rules: Frames, shot: Shot, course: Course, free: Sequence[Span], wanted: Sequence[Shot] = ()
) -> int:
    """The frame of the source that the shot is to begin with; free: all that nobody else shows."""
    length, trimmed = shot.span.length, rules.shot_min // 2

    def left(first: int) -> tuple[int, bool]:
        parts = without(free, [Span(first, first + length)])
        return sum(part.length // rules.shot_ideal for part in parts), _room_for(wanted, parts)

    many, room = left(shot.source_in)

    def is_fair(first: int) -> bool:
        more, enough = left(first)
        return more >= many and (enough or not room)

    values = course.values(length)
    rows: list[tuple[float, int, int]] = []
    for part in free:
        inside = part.shared(shot.moment.span)
        for first in range(inside.start, inside.end - length + 1):
            ends = min(first - inside.start, inside.end - first - length, trimmed)
            rows.append((float(values[first - course.span.start]), -ends, first))
    # Few are asked whether they are fair, which takes long.
    best = next((value for value, _, first in sorted(rows, reverse=True) if is_fair(first)), None)
    near = sorted(row[1:] for row in rows if best is not None and row[0] >= best - AS_GOOD)
    return next((first for _, first in near if is_fair(first)), shot.source_in)


def _means(column: _Array, length: int) -> _Array:
    sums = np.concatenate(([0.0], np.cumsum(column)))
    return np.asarray((sums[length:] - sums[:-length]) / length)
