"""The highest values of many stretches of a table, each looked up at once."""

from __future__ import annotations

import numpy as np

from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.openings import Numbers


class Highest:
    """The highest of each column between two rows, from tables of the highest of 1, 2, 4, 8 ... rows on.

    (Sparse tables for range minima, as in Bender and Farach-Colton 2000; from memory.)
    """

    def __init__(self, values: Array) -> None:
        self._tables = [values]

    def between(self, firsts: Numbers, end: int) -> Array:
        """From each of these rows, which rise, up to `end`, behind all of them: shape (rows, columns)."""
        found = np.empty((len(firsts), self._tables[0].shape[1]))
        done = 0
        for level in reversed(range(int(end - firsts[0]).bit_length())):
            rows = 1 << level
            # Two runs of so many rows, which may overlap, are all rows from each of these firsts on.
            until = int(np.searchsorted(firsts, end - rows, side="right"))
            if until > done:
                table = self._table(level)
                np.maximum(table[firsts[done:until]], table[end - rows], out=found[done:until])
                done = until
        return found

    def _table(self, level: int) -> Array:
        while len(self._tables) <= level:
            last, rows = self._tables[-1], 1 << (len(self._tables) - 1)
            self._tables.append(np.maximum(last[:-rows], last[rows:]))
        return self._tables[level]
