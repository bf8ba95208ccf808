"""What a shot costs at its ends with open picture around it, and what is otherwise where another is near."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from mltassist.cutaways.planner.costs import Array, Stretch
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.spans import short_heads

_EQUAL = 1e-9


@dataclass(frozen=True, slots=True)
class Edges:
    """What an end of a shot costs at each boundary of a stretch where the picture is open beyond it.

    edit: of the picture. before, after: looks that are too short, before a shot and after it.
    """

    edit: Array
    before: Array
    after: Array

    @property
    def begins(self) -> Array:
        """What it costs that a shot begins there."""
        return self.edit + self.before

    @property
    def ends(self) -> Array:
        """What it costs that one ends there."""
        return self.edit + self.after


@dataclass(frozen=True, slots=True)
class Meeting:
    """Columns of shots, one of which ends where one of others begins, or a flash before it.

    cost: what two of them cost more than both by themselves, or less.
    """

    before: Numbers
    after: Numbers
    cost: float


def edges_of(stretch: Stretch, rules: Frames) -> Edges:
    """The costs at the boundaries of a stretch; at its ends an edit is the editor's own."""
    edit = stretch.boundary.copy()
    edit[[0, -1]] = 0.0
    return Edges(edit, _short_tails(stretch, rules), short_heads(stretch, rules))


def _short_tails(stretch: Stretch, rules: Frames) -> Array:
    """Cost of open picture that a shot ends so early in a view that its face only flashes."""
    tail = np.zeros(stretch.length + 1)
    for start, end in zip(stretch.changes, stretch.changes[1:], strict=False):
        if stretch.face[start]:
            early = min(int(end), int(start) + max(1, rules.face_min))
            tail[start + 1 : early] = rules.weights.short_face
            if end - start < rules.face_min and end < stretch.length:
                tail[end] = rules.weights.short_view
    return tail


def meetings(
    stretch: Stretch, rules: Frames, edges: Edges, starts: Numbers, ends: Numbers
) -> Iterator[Meeting]:
    """Where two shots cost more or less than both by themselves. starts, ends: frames of all columns."""
    # Of shots that begin within the shortest no two are taken, as each row that is made of them asks.
    reach = min(max(1, rules.face_min), rules.shot_min)
    begun, ended = starts - stretch.span.start, ends - stretch.span.start
    for end in np.unique(ended[(ended > 0) & (ended < stretch.length)]).tolist():
        before = np.flatnonzero(ended == end)
        touching = np.flatnonzero(begun == end)
        once = float(edges.edit[end] + edges.after[end] + edges.before[end])
        if len(touching) and once > _EQUAL:
            yield Meeting(before, touching, -once)
        view = int(np.searchsorted(stretch.changes, end, side="right")) - 1
        change, until = int(stretch.changes[view]), int(stretch.changes[view + 1])
        if not stretch.face[end]:
            continue
        near = np.flatnonzero((begun > end) & (begun < end + reach) & (begun <= until))
        cost = rules.weights.short_face - edges.after[end] - edges.before[begun[near]]
        if end == change:  # the editor's own view, whole
            whole = begun[near] == until
            cost[whole] = rules.weights.short_view - edges.after[end] - edges.before[until]
        for each in np.unique(cost[np.abs(cost) > _EQUAL]).tolist():
            yield Meeting(before, near[cost == each], each)
