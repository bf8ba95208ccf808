"""What the words said near a shot take off the cost of moments, for all shots that end at one frame."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.ranges import Highest
from mltassist.cutaways.planner.words import BESIDE, Matcher


class SaidNear:
    """It is the same for all moments with the same tags, and most of them are said nowhere near."""

    def __init__(self, matcher: Matcher, rules: Frames, length: int, tags: Sequence[frozenset[str]]) -> None:
        subjects = list(dict.fromkeys(tags))
        numbers = {own: number for number, own in enumerate(subjects)}
        self._tagged = np.array([numbers[own] for own in tags], dtype=np.int64)
        self._reach = reach = rules.match_reach
        said = np.zeros((length + 2 * reach, len(subjects)))
        for subject, frames, weight in matcher.occurrences():
            inside = reach + frames[(frames >= -reach) & (frames < length + reach)]
            rows = np.flatnonzero([subject in own for own in subjects])
            cells = np.ix_(inside, rows)
            said[cells] = np.maximum(said[cells], rules.weights.match * weight)
        self._said = Highest(said)
        self._known: dict[int, tuple[Numbers, Array]] = {}

    def take_off(self, shots: Array, firsts: Numbers, end: int) -> None:
        """Take it off the costs of shots from each of these frames on: shape (frames, moments)."""
        if end not in self._known:
            reach = self._reach
            beside = BESIDE * self._said.between(firsts, end + 2 * reach)
            saved = np.maximum(beside, self._said.between(firsts + reach, end + reach))
            some = np.flatnonzero(saved.any(axis=0))
            self._known[end] = some, saved[:, some]
        some, saved = self._known[end]
        places = np.searchsorted(some, self._tagged)
        columns = np.flatnonzero(np.append(some, -1)[places] == self._tagged)
        shots[:, columns] -= saved[:, places[columns]]
