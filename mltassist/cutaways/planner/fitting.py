"""Which lengths of shots fit into one clip together: no frame of it is shown twice.

Prices on frames alone see a clip as if it could be cut up at will; but of a clip of 120 frames a shot of
80 leaves nothing that a shot of 50 could be made of. Two answers: ways of weighing lengths, by each of which
no clip gives more than there is of it (dual feasible functions, as of Fekete and Schepers 2001 for the
packing of bins; from memory), and all combinations that fit, where they are few.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.openings import Numbers

WAYS = 10
"""Shortest lengths of others that shots are weighed against, about."""
COMBINATIONS = 10_000
"""Of more, over all clips, the solver has too much to choose from."""


def weighings(frames: int, uses: int, shortest: int, longest: int) -> Iterator[Array]:
    """Ways to weigh shots by their length (index 0 to the longest): what fits together weighs 1 at most.

    frames: of the clip; uses: how often it can be used; shortest: shot.
    """
    if uses < 2 or frames < 2 * shortest or uses * longest <= frames:
        return  # there is nothing to choose, or room for all
    lengths = np.arange(longest + 1)
    for parts in range(1, min(uses, frames // shortest) + 1):
        many = lengths * (parts + 1)
        yield np.minimum(1.0, np.where(many % frames, (many // frames) / parts, lengths / frames))
    others = {*range(shortest, frames // 2 + 1, max(1, (frames // 2 - shortest) // WAYS)), frames // 2}
    others.add(max(shortest, frames // 3 + 1))
    for other in sorted(others):
        # What leaves no room for another of so many frames takes all; what is shorter counts nothing.
        for middle in (1 / min(uses, frames // other), lengths / frames):
            yield np.where(lengths > frames - other, 1.0, np.where(lengths >= other, middle, 0.0))


def combinations(lengths: Sequence[int], frames: int, uses: int, most: int) -> list[tuple[int, ...]] | None:
    """All lengths that fit into a clip together, longest first, but those of which others hold more.

    lengths: to choose from, in order, each as often as wanted. None where there are more than `most`.
    """
    found: set[tuple[int, ...]] = set()

    def go_on(taken: tuple[int, ...], last: int, left: int) -> bool:
        fitting = int(np.searchsorted(lengths[: last + 1], left, side="right")) - 1
        if len(taken) == uses or fitting < 0:
            found.add(taken)
            return len(found) <= most
        # The last of them is best as long as can be.
        choices = (fitting,) if len(taken) == uses - 1 else range(fitting, -1, -1)
        return all(go_on((*taken, lengths[one]), one, left - lengths[one]) for one in choices)

    return sorted(found - {()}) if go_on((), len(lengths) - 1, frames) else None


def counted(lengths: Numbers, combined: Sequence[tuple[int, ...]]) -> Array:
    """How many of each combination are at least so long: shape (lengths, combinations)."""
    table = np.zeros((len(lengths), len(combined)))
    for column, one in enumerate(combined):
        table[:, column] = (np.array(one)[None, :] >= lengths[:, None]).sum(axis=1)
    return table
