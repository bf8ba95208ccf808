"""Open picture between shots, for many states at once: what a search needs of it, forward and backward.

The costs are those of `costs.open_parts`: open frames, and looks at a face too short that a shot of ours
begins or ends. Boundaries may be left out, but for those where the picture changes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.costs import Array, Stretch
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.spans import short_heads

Numbers = NDArray[np.int64]


class _Looks:
    """What both directions know of a stretch. kept: the boundaries that are used, in order."""

    def __init__(self, stretch: Stretch, rules: Frames, kept: Numbers, states: tuple[int, ...]) -> None:
        self._stretch, self._weights, self._kept = stretch, rules.weights, kept
        self._least = max(1, rules.face_min)
        self._changes = set(stretch.changes.tolist())
        self._head = short_heads(stretch, rules)[kept]
        self._values = np.full((len(kept), *states), np.inf)
        """Cost of standing at each boundary, less the open frames before it, or with those."""
        self._aged = self._crossing = np.full(states, np.inf)
        """Best of the boundaries in this view that are far enough away, and of those in other views."""

    def _flash(self, q: int) -> float:
        return self._weights.short_face if self._stretch.face[q - 1] else 0.0

    def _whole(self, p: int, q: int) -> float:
        """A view that is open as the editor made it; at the ends of the stretch it is none of ours."""
        return 0.0 if p == 0 and q == self._stretch.length else self._weights.short_view

    def _tail(self, change: int, q: int) -> float:
        """The look that ends at `q` in a view that began at `change`, after others."""
        if q - change >= self._least:
            return 0.0
        whole = 0.0 if q == self._stretch.length else self._weights.short_view
        return min(self._flash(q), whole) if q in self._changes else self._flash(q)


class Openings(_Looks):
    """Forward: least cost of ending open picture at a boundary, by where shots ended before it."""

    _change = _next = 0

    def leave(self, place: int, values: Array) -> None:
        """From the boundary at this place on the picture may be open, at these costs."""
        q = int(self._kept[place])
        self._values[place] = values - self._stretch.open_sum[q]
        if place and q in self._changes:
            since = slice(self._change, place)
            begun = (self._values[since] + self._head[since, None, None]).min(axis=0)
            self._crossing = np.minimum(self._crossing, begun)
            self._aged = np.full_like(begun, np.inf)
            self._change = self._next = place

    def reach(self, place: int) -> Array:
        """Least cost of open picture that ends at the boundary at this place."""
        q, change = int(self._kept[place]), int(self._kept[self._change])
        while self._next < place and self._kept[self._next] <= q - self._least:
            self._aged = np.minimum(self._aged, self._values[self._next])
            self._next += 1
        value = np.minimum(self._aged, self._crossing + self._tail(change, q))
        if self._next < place:
            flash, young = self._flash(q), self._values[self._next : place]
            if self._next == self._change and q in self._changes:
                least = min(flash, self._whole(change, q)) - flash
                young = np.concatenate((young[:1] + least, young[1:]))
            value = np.minimum(value, young.min(axis=0) + flash)
        return np.asarray(value + self._stretch.open_sum[q])


class Returns(_Looks):
    """Backward: what is still to be paid by who leaves a boundary for open picture."""

    _end = _next = -1

    def arrive(self, place: int, values: Array) -> None:
        """Open picture may end at the boundary at this place; after that these costs are to be paid."""
        q = int(self._kept[place])
        self._values[place] = values + self._stretch.open_sum[q]
        if q in self._changes:
            for later in range(place + 1, self._end + 1):
                tail = self._tail(q, int(self._kept[later]))
                self._crossing = np.minimum(self._crossing, self._values[later] + tail)
            self._aged = np.full_like(self._crossing, np.inf)
            self._end = self._next = place

    def best(self, place: int) -> Array:
        """The least that is still to be paid with open picture from the boundary at this place on."""
        p, end = int(self._kept[place]), int(self._kept[self._end])
        while self._next > place and self._kept[self._next] >= p + self._least:
            self._aged = np.minimum(self._aged, self._values[self._next])
            self._next -= 1
        value = np.minimum(self._aged, self._crossing + self._head[place])
        if self._next > place:
            flash, young = self._flash(p + 1), self._values[place + 1 : self._next + 1]
            if self._next == self._end and p in self._changes:
                least = min(flash, self._whole(p, end)) - flash
                young = np.concatenate((young[:-1], young[-1:] + least))
            value = np.minimum(value, young.min(axis=0) + flash)
        return np.asarray(value - self._stretch.open_sum[p])
