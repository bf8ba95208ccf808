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
    """Forward: least cost of ending open picture at boundaries, by where shots ended before them.

    Boundaries come in runs: of each only the last may be one where the picture changes.
    """

    _change = 0

    def leave(self, since: int, values: Array) -> None:
        """From a run of boundaries, the first at this place, the picture may be open at these costs."""
        until = since + len(values)
        self._values[since:until] = values - self._stretch.open_sum[self._kept[since:until]][:, None, None]
        if not since:
            self._least_until = np.full_like(self._values, np.inf)
            self._least_until[0] = self._values[0]
            return
        runs = self._least_until[since:until]
        np.minimum.accumulate(self._values[since:until], axis=0, out=runs)
        np.minimum(runs, self._least_until[since - 1], out=runs)

    def reach(self, since: int, until: int) -> Array:
        """Least cost of open picture that ends at each of the boundaries of the last run."""
        kept, change = self._kept[since:until], int(self._kept[self._change])
        flash = np.array([self._flash(q) for q in kept.tolist()])
        tails = np.array([self._tail(change, q) for q in kept.tolist()])
        value = np.minimum(
            self._crossing + tails[:, None, None],
            # What is far enough away costs no less by a flash more.
            self._least_until[since - 1 : until - 1] + flash[:, None, None],
        )
        aged = np.searchsorted(self._kept, kept - self._least, side="right") - 1
        old = int(np.searchsorted(aged, self._change))
        np.minimum(value[old:], self._least_until[aged[old:]], out=value[old:])
        if (q := int(kept[-1])) in self._changes:
            if old == len(value):  # the view is too short, and may be left as the editor made it
                whole = min(self._flash(q), self._whole(change, q))
                value[-1] = np.minimum(value[-1], self._values[self._change] + whole)
            self._cross(until - 1)
        return np.asarray(value + self._stretch.open_sum[kept][:, None, None])

    def _cross(self, place: int) -> None:
        """Go on to the view that begins at the boundary at this place."""
        rows = slice(self._change, place)
        begun = (self._values[rows] + self._head[rows, None, None]).min(axis=0)
        self._crossing = np.minimum(self._crossing, begun)
        self._least_until[place] = self._values[place]
        self._change = place


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
