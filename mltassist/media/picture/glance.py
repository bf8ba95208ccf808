"""A first look at long rushes by their key pictures alone: which parts are worth a closer look."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Rate, Span
from mltassist.media.cache import Analysis, remembered
from mltassist.media.picture.looks import LOOK_SIDE, still_look
from mltassist.media.picture.thumbnails import each_picture
from mltassist.media.picture.usable import still_worth

GLANCE = Analysis("glance", 1)
LONG_S = 90
"""Stretches up to this are looked at whole."""
SECTION_S, _PART_S = 60, 12
"""Of longer ones, the best part of every section: a moment of every minute is more than a film takes."""
_APART_S = Fraction(1, 2)
"""Key pictures nearer to each other than this are passed over, as in files that hold nothing else."""


def worth_a_look(path: Path, span: Span, rate: Rate) -> tuple[Span, ...]:
    """The parts of a stretch, in frames of the project, that are to be looked at; remembered.

    All of it up to LONG_S. Of a longer one the part of each section whose key pictures are the sharpest and
    best exposed; none of a section in which no key picture can be used.

    Raises SourceMissing when there is no file, MediaError when it cannot be read.
    """
    part = rate.frames(_PART_S)
    if span.length <= rate.frames(LONG_S):
        return (span,)
    seen, values = _glanced(path, span, rate)
    found = []
    section = rate.frames(SECTION_S)
    sections = max(1, (span.length + section // 2) // section)
    edges = [span.start + span.length * number // sections for number in range(sections + 1)]
    for whole in map(Span, edges, edges[1:]):
        best = _best(whole, min(part, whole.length), seen, values, max(1, rate.frames(1)))
        if best is not None:
            found.append(best)
    return tuple(found)


def _glanced(path: Path, span: Span, rate: Rate) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Frames of key pictures, and what each is worth as a still."""
    parameters = (("start", span.start), ("end", span.end), ("rate", str(rate.fraction)))

    def compute() -> dict[str, NDArray[np.float64]]:
        step = max(1, rate.frames(_APART_S))
        shown = each_picture(path, span, rate, step=step, keyframes_only=True, side=LOOK_SIDE)
        rows = [(one.frames.start, still_worth(*still_look(one.picture))) for one in shown]
        return {"rows": np.array(rows, np.float64).reshape(-1, 2)}

    rows = remembered(path, Analysis(GLANCE.name, GLANCE.version, parameters), compute)["rows"]
    return rows[:, 0].astype(np.int64), rows[:, 1]


def _best(
    whole: Span, length: int, seen: NDArray[np.int64], values: NDArray[np.float64], stride: int
) -> Span | None:
    """The stretch of a length with the highest mean worth of its key pictures; the middle one of equals."""
    middle = (whole.start + whole.end - length) // 2
    best: tuple[float, int, Span] | None = None
    for start in range(whole.start, whole.end - length + 1, stride):
        inside = values[(seen >= start) & (seen < start + length)]
        if not inside.size or inside.min() <= 0:
            continue
        row = (float(inside.mean()), -abs(start - middle), Span(start, start + length))
        if best is None or row[:2] > best[:2]:
            best = row
    if best is None and not ((seen >= whole.start) & (seen < whole.end)).any():
        return Span(middle, middle + length)  # no key picture in a whole section: nothing speaks against it
    return best[2] if best else None
