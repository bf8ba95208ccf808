"""Which lengths fit into one clip together, by trying all."""

from __future__ import annotations

from itertools import combinations_with_replacement

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.fitting import combinations, weighings


def fitting(lengths: list[int], frames: int, uses: int) -> list[tuple[int, ...]]:
    """Everything that fits into a clip, longest first."""
    every = (c for many in range(1, uses + 1) for c in combinations_with_replacement(lengths[::-1], many))
    return [one for one in every if sum(one) <= frames]


@settings(max_examples=25, deadline=None)
@given(frames=st.integers(1, 40), uses=st.integers(1, 4), shortest=st.integers(3, 6), room=st.integers(0, 9))
def test_what_fits_together_weighs_one_at_most(frames, uses, shortest, room):
    longest = shortest + room
    uses = min(uses, frames // shortest)
    every = fitting([*range(shortest, min(longest, frames) + 1)], frames, uses)
    for way in weighings(frames, uses, shortest, longest):
        assert way.shape == (longest + 1,)
        assert (np.diff(way) >= -1e-12).all()
        assert max((sum(way[length] for length in one) for one in every), default=0.0) <= 1 + 1e-9


def test_half_a_clip_and_more_leaves_no_room_for_another():
    # By frames alone two shots of 70 take 1.17 clips of 120, so that 0.86 of each would fit.
    heaviest = max(sum(way[[70, 70]]) for way in weighings(120, 2, 50, 120))
    assert heaviest == 2


@settings(max_examples=25, deadline=None)
@given(frames=st.integers(1, 40), uses=st.integers(1, 4), lengths=st.sets(st.integers(3, 20), min_size=1))
def test_every_combination_that_fits_is_held_by_one_of_those_given(frames, uses, lengths):
    known = sorted(lengths)
    found = combinations(known, frames, uses, 10**6)
    every = fitting(known, frames, uses)
    assert set(found) <= set(every)
    for one in every:
        assert any(
            len(other) >= len(one) and all(a >= b for a, b in zip(other, one, strict=False))
            for other in found
        )


def test_of_too_many_combinations_none_is_given():
    assert combinations([*range(50, 150)], 400, 4, 1000) is None
