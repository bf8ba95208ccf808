"""The moments of a film that may be laid, and what of them can be compared all at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from mltassist.cutaways.planner.film import CoverTask, Moment, Refused, Voice
from mltassist.frames import Span, joined
from mltassist.recipe.cover import Weights

_Array = NDArray[np.float64]


@dataclass(frozen=True)
class Supply:
    """The moments in a fixed order, and what of them can be compared all at once."""

    moments: tuple[Moment, ...]
    voices: tuple[Voice, ...] = ()
    refused: tuple[Refused, ...] = ()

    @cached_property
    def lengths(self) -> NDArray[np.int64]:
        """Frames of each moment."""
        return np.array([moment.span.length for moment in self.moments], dtype=np.int64)

    @cached_property
    def sources(self) -> NDArray[np.int64]:
        """A number for each moment's source."""
        numbers = {source: n for n, source in enumerate(dict.fromkeys(m.source for m in self.moments))}
        return np.array([numbers[moment.source] for moment in self.moments], dtype=np.int64)

    @cached_property
    def poor(self) -> _Array:
        """How bad each moment looks, 0 to 1."""
        return np.array([1.0 - moment.worth for moment in self.moments])

    @property
    def subjects(self) -> list[tuple[str, ...]]:
        """What each moment shows."""
        return [moment.subjects for moment in self.moments]

    @cached_property
    def closer(self) -> _Array:
        """1 for each moment that is closer than wide, else 0."""
        return np.array([float(moment.is_closer) for moment in self.moments])

    @cached_property
    def _sizes(self) -> NDArray[np.str_]:
        return np.array([moment.size for moment in self.moments], dtype=np.str_)

    @cached_property
    def _subjects(self) -> NDArray[np.bool_]:
        names = {name: n for n, name in enumerate(dict.fromkeys(s for m in self.moments for s in m.subjects))}
        table = np.zeros((len(self.moments), max(1, len(names))), dtype=bool)
        for row, moment in enumerate(self.moments):
            table[row, [names[subject] for subject in moment.subjects]] = True
        return table

    @cached_property
    def _strangers(self) -> list[tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]]:
        """Moments, and where others speak or they were refused, as first frames and ends."""
        places: list[tuple[list[int], tuple[Span, ...]]] = []
        for whose in dict.fromkeys(moment.whose for moment in self.moments if moment.whose):
            columns = [number for number, moment in enumerate(self.moments) if moment.whose == whose]
            one = self.moments[columns[0]]
            spans = joined(voice.span for voice in self.voices if voice.is_foreign_to(one))
            places.append((columns, spans))
        for source in dict.fromkeys(one.source for one in self.refused):
            columns = [number for number, moment in enumerate(self.moments) if moment.source == source]
            places.append((columns, joined(one.span for one in self.refused if one.source == source)))
        found = []
        for columns, spans in places:
            rows = np.array([(span.start, span.end) for span in spans], np.int64).reshape(-1, 2)
            found.append((np.array(columns, np.int64), rows[:, 0], rows[:, 1]))
        return found

    def foreign(self, spans: Sequence[Span]) -> NDArray[np.bool_]:
        """Where moments may not be seen, for who speaks or as refused: shape (spans, moments)."""
        table = np.zeros((len(spans), len(self.moments)), dtype=bool)
        last = np.array([span.end for span in spans], np.int64)
        for columns, until in self.foreign_from(np.array([span.start for span in spans], np.int64)):
            table[:, columns] |= (until < last)[:, None]
        return table

    def foreign_from(self, frames: NDArray[np.int64]) -> list[tuple[NDArray[np.int64], NDArray[np.int64]]]:
        """Moments that may not be seen everywhere, and until when they may be seen from each frame.

        Spans that begin there and end later show somebody while another speaks, or what was refused.
        """
        return [
            (columns, np.append(starts, np.iinfo(np.int64).max)[np.searchsorted(ends, frames, side="right")])
            for columns, starts, ends in self._strangers
        ]

    @cached_property
    def _alike(self) -> dict[int, tuple[NDArray[np.bool_], NDArray[np.bool_]]]:
        return {}

    def alike(self, number: int) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Which moments have the size of this one, and which share a subject with it."""
        if number not in self._alike:
            size = np.asarray(self._sizes == self._sizes[number])
            self._alike[number] = size, np.asarray((self._subjects & self._subjects[number]).any(axis=1))
        return self._alike[number]

    @cached_property
    def _tables(self) -> dict[Weights, tuple[_Array, NDArray[np.bool_]]]:
        return {}

    def tastes(self, weights: Weights) -> tuple[_Array, NDArray[np.bool_]]:
        """What any two moments cost near each other, and which may not touch: shape (moments, moments)."""
        if weights not in self._tables:
            many = len(self.moments)
            tastes, alike = np.empty((many, many)), np.empty((many, many), dtype=bool)
            for number in range(many):
                size, subject = self.alike(number)
                tastes[number] = weights.same_subject * subject + weights.same_size * size
                alike[number] = (size & subject) | (self.sources == self.sources[number])
            self._tables[weights] = tastes, alike
        return self._tables[weights]


def supply_of(task: CoverTask) -> Supply:
    """The supply in its fixed order: the same whatever the order in which it is given."""
    moments = sorted(task.supply, key=lambda moment: (moment.source, moment.span))
    return Supply(tuple(moments), task.voices, task.refused)
