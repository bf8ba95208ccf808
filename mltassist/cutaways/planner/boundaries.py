"""The boundaries of a stretch that a search looks at, and how many of them at once."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from mltassist.cutaways.planner.costs import Stretch
from mltassist.cutaways.planner.openings import Numbers

NOTCH = 0.1
"""What a boundary has to cost less than the one beside it to be worth a look."""

STEP = 1.0
"""What a frame has to cost more or less than the one before it to be worth one."""


def runs_of(stretch: Stretch, kept: Numbers, shot_min: int, most: int) -> Iterator[tuple[int, int]]:
    """Boundaries in a row, none of which a shot reaches from another; a view ends at the last at most."""
    changes, since = set(stretch.changes.tolist()), 1
    for place in range(2, len(kept) + 1):
        ends = place == len(kept) or int(kept[place - 1]) in changes
        if ends or place - since >= most or kept[place] >= kept[since] + shot_min:
            yield since, place
            since = place


def boundaries_of(stretch: Stretch, every: int) -> Numbers:
    """The boundaries that are worth a look: all, or of each so many one and those where edits cost least."""
    kept = np.zeros(stretch.length + 1, dtype=bool)
    kept[::every] = True
    kept[stretch.changes] = True
    cost = stretch.boundary
    falls, rises = cost[1:] < cost[:-1] - NOTCH, cost[:-1] < cost[1:] - NOTCH
    # Where a frame begins to cost more or less to cover or to leave open: a first look begins or ends.
    for total in (stretch.cover_sum, stretch.open_sum):
        kept[1:-1] |= np.abs(np.diff(total, 2)) > STEP
    kept[1:-1] |= (falls[:-1] & (cost[1:-1] <= cost[2:])) | (rises[1:] & (cost[1:-1] <= cost[:-2]))
    return np.flatnonzero(kept)
