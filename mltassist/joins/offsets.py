"""How a join would sound if it lay a few frames earlier or later in its sources."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from mltassist.joins.measures import QUIET, HeardSide, Side, activity, compare, heard, room, speech_level
from mltassist.joins.planner.judge import Measures
from mltassist.joins.rooms import Array

AUDIBLE = 0.2
"""Activity from which a frame may be part of a word: nothing that loud is taken away."""
_CLOSED = 9
"""A silence of fewer frames of 10 ms lies within a word: before the release of a plosive (see CLOSURE_S)."""
FAINT, _CERTAIN = 0.1, 0.5
"""Nor anything half as loud in which the chance of speech is so great."""


def offsets(
    left: Side, right: Side, before: Mapping[int, int], after: Mapping[int, int]
) -> Iterator[tuple[int, int, Measures]]:
    """Every pair of moves that harms no word, with what the join would measure.

    before, after: the moves to try, each in frames with its samples at 16 kHz: how much later the clip
    before ends and the clip after begins in its source, earlier where negative.
    """
    lefts, rights = (dict(_harmless(side, moves)) for side, moves in ((left, before), (right, after)))
    for n, one in lefts.items():
        for m, other in rights.items():
            yield n, m, compare(one, other)


def _harmless(side: Side, moves: Mapping[int, int]) -> Iterator[tuple[int, HeardSide]]:
    the_room = room(side)
    active = activity(side, the_room, speech_level(side))
    for frames, samples in moves.items():
        moved = side.moved(samples)
        if keeps_words(side, moved, active):
            yield frames, heard(moved, the_room)


def keeps_words(was: Side, now: Side, active: Array) -> bool:
    """True when the move takes no sound of a word away and enters no other word.

    What is added may be the rest of the word in which the edit lay, and then silence, but nothing after.
    """
    low, high = sorted((was.edit, now.edit))
    between = active[low:high]
    if now.before == (now.edit < was.edit):  # frames are taken away
        spoken = (between >= FAINT) & (was.speech[low:high] >= _CERTAIN)
        return not bool((spoken | (between >= AUDIBLE)).any())
    outwards = between if was.before else between[::-1]
    inside = active[was.edit - 1 : was.edit] if was.before else active[was.edit : was.edit + 1]
    sounds: Iterable[bool] = _whole_words(outwards >= QUIET).tolist()
    # The word that was cut counts as sounding, so that another can only begin after a silence.
    row = [bool((inside >= AUDIBLE).any()), *sounds]
    return not bool((np.diff(np.array(row, dtype=int)) > 0).any())


def _whole_words(sounds: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The same where silences within a word count as sounding, that from the edit to its first sound too."""
    places = np.flatnonzero(np.concatenate(([True], sounds)))
    whole = sounds.copy()
    for start, end in pairwise(places.tolist()):
        if end - start <= _CLOSED:
            whole[start : end - 1] = True
    return whole
