"""Levels set once more by what the way from one level to the next adds or takes within a passage."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Rate, Span
from mltassist.media.sound.meter import Meter, together
from mltassist.music.measuring import Reading
from mltassist.music.planner import PLAIN_DB, ClipBeneath, Hold, PassagePart, Ramps, curve_keys, holds_of, met

TENTHS = 10
"""A meter keeps what it reads in so many parts of a second."""
MOST_LU = 3.0
"""A level goes up by no more than this: what lies before the way down would be too near to the words."""
LEAST_LU = 0.3
"""Less is not worth a level of its own."""
NEAR_LU = 0.8
"""No stretch may come nearer to speech than this for it."""
TIMES = 2
"""A step that becomes smaller is a shorter way; so it is looked at again."""


def settled(
    layer: int,
    separation_lu: float | None,
    holds: Sequence[Hold],
    clips: Sequence[ClipBeneath],
    *,
    spoken: Sequence[PassagePart],
    readings: Mapping[PassagePart, Reading],
    ramps: Ramps,
    rate: Rate,
) -> tuple[Hold, ...]:
    """The holds of one layer, higher where the way down to the next leaves a stretch quieter than asked.

    spoken: all stretches of speech; in a pause levels stay, and so do those that the plain level asks for,
    from 20 LU on. Of what was measured nothing is decoded again: a meter keeps each tenth of a second.
    """
    found = tuple(holds)
    if separation_lu is None or separation_lu >= PLAIN_DB:
        return found
    beneath = met(clips)
    meters = {
        stretch.span: (together([readings[stretch].over])[0], readings[stretch].beneath[layer])
        for stretch in spoken
        if layer in readings[stretch].beneath
    }

    def drawn() -> list[tuple[Span, tuple[tuple[int, float], ...]]]:
        every = ((one.span, holds_of(one, found)) for one in beneath)
        return [(span, curve_keys(span, near, ramps)) for span, near in every if near]

    for _ in range(TIMES):
        curves = drawn()
        spare = {
            span: _spare(span, found, curves, over, separation_lu=separation_lu, rate=rate)
            for span, over in meters.items()
        }
        found = tuple(part for hold in found for part in _raised(hold, spare))
    for _ in range(TIMES):
        curves = drawn()
        lacks = {
            span: separation_lu - over_lufs + meter.shaped_lufs(_gains(span, curves, len(meter.tenths), rate))
            for span, (over_lufs, meter) in meters.items()
        }
        if not any(lack > NEAR_LU for lack in lacks.values()):
            return found
        # Loudness is gated: what was left out of it as too quiet may count once it is raised.
        found = tuple(_lowered(hold, lacks, holds) for hold in found)
    return tuple(holds)  # what was raised beside it has made its own way shorter


def _lowered(hold: Hold, lacks: Mapping[Span, float], was: Sequence[Hold]) -> Hold:
    """A hold, lower by what its stretches have come too near to speech, but not lower than it was."""
    lack = max((some for span, some in lacks.items() if hold.span.covers(span)), default=0.0)
    least_db = next(one.depth_db for one in was if one.span.covers(hold.span))
    return replace(hold, depth_db=max(least_db, hold.depth_db - lack)) if lack > 0 else hold


def _raised(hold: Hold, spare: Mapping[Span, float]) -> Iterator[Hold]:
    """A hold, or where its last stretch has something to spare, that stretch in a hold of its own."""
    last = max((span for span in spare if hold.span.covers(span)), key=lambda span: span.end, default=None)
    if last is None or last.end != hold.span.end or spare[last] < LEAST_LU:
        yield hold
        return
    if last.start > hold.span.start:
        yield replace(hold, span=Span(hold.span.start, last.start))
    yield replace(hold, span=last, depth_db=min(0.0, hold.depth_db + spare[last]))


def _spare(
    span: Span,
    holds: Sequence[Hold],
    curves: Sequence[tuple[Span, tuple[tuple[int, float], ...]]],
    heard: tuple[float, Meter],
    *,
    separation_lu: float,
    rate: Rate,
) -> float:
    """By how much a layer is quieter in a stretch than asked because its level is on the way down there."""
    over_lufs, meter = heard
    depth = next((hold.depth_db for hold in holds if hold.span.covers(span)), None)
    if depth is None or not isfinite(over_lufs):
        return 0.0
    gains = _gains(span, curves, len(meter.tenths), rate)
    under, level = meter.shaped_lufs(gains), meter.shaped_lufs(np.full(len(gains), depth))
    if not isfinite(under) or not isfinite(level) or under >= level:
        return 0.0
    return min(MOST_LU, max(0.0, over_lufs - under - separation_lu))


def _gains(
    span: Span, curves: Sequence[tuple[Span, tuple[tuple[int, float], ...]]], count: int, rate: Rate
) -> NDArray[np.float64]:
    """The gain in the middle of every tenth of a second of a stretch, dB; 0 where no clip lies."""
    frames = span.start - 1 + (np.arange(count) + 0.5) / TENTHS * float(rate.fraction)
    gains = np.zeros(count)
    for margin in (
        float(rate.fraction) / TENTHS,
        0.0,
    ):  # a tenth may hold the beginning of a clip, or its end
        for where, keys in curves:
            inside = (frames > where.start - 1 - margin) & (frames <= where.end - 1 + margin)
            at, level = zip(*keys, strict=True)
            gains[inside] = np.interp(frames[inside], at, level)
    return gains
