"""Clicks of any shape where two sources meet: sharp and broad pulses, swings, steps that stay."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import log10

import numpy as np
from scipy.linalg import solve_toeplitz

from mltassist.joins.clicks import CLICK_DB, NEAR_SAMPLES, Array, autocorrelation
from mltassist.media.sound.recordings import Sound
from mltassist.media.sound.speech import RATE_HZ

HALF = 48
"""Samples (3 ms) on each side of an edit in which a click is looked for."""
PASSED_HZ = (4000, 2000, 1000)
"""Where the band of a broad pulse ends."""
SWINGS = (1, 2, 4, 8)
"""Samples for which a click swings to one side before it swings to the other."""
_ORDINARY = 2.3
"""So many standard deviations are ordinary: of so many shapes one fits noise well."""
_MASKS = 0.5
"""A click beside others like it has to be larger than this part of the largest."""
_STEP = 4  # samples between places where others are looked for


@dataclass(frozen=True, slots=True)
class Seam:
    """What one side tells of a click of each shape at the edit: its part of a matched filter.

    fits: sum of the sound weighted by the shape; weighs: of the shape itself, which is one over its variance;
    near: the largest that seems to lie elsewhere on this side, in full scale; level: where this side lies as
    a whole, and off: what fits where all lies at 1. Shapes (shapes,).
    """

    fits: Array
    weighs: Array
    near: Array
    off: Array
    level: float = 0.0


NO_SEAM = Seam(np.zeros(1), np.zeros(1), np.zeros(1), np.zeros(1))
"""Of a side that is too short to tell."""


def seam(sound: Sound, cut: int, silent_dbfs: float, *, before: bool) -> Seam:
    """What a side tells of clicks at sample `cut`, which is the first after the edit.

    A matched filter for a known place (North 1943; Van Trees 1968) in the noise of this side: what the film
    does not use of it counts for nothing. Each side is told alone, for where two noises meet nothing goes on.
    """
    used = sound[max(0, cut - NEAR_SAMPLES) : cut] if before else sound[cut : cut + NEAR_SAMPLES]
    if len(used) < 4 * HALF:
        return NO_SEAM
    heard = used.astype(np.float64)
    inner = heard[:-HALF] if before else heard[HALF:]
    level = float(inner.mean())  # a side may lie off zero as a whole
    inner = inner - level
    lags = autocorrelation(inner)[:HALF]
    lags[0] = lags[0] * 1.0001 + 10 ** (silent_dbfs / 10) + 1e-12
    shapes = _shapes()
    halves = shapes[:, :HALF], shapes[:, HALF:]
    early, late = (solve_toeplitz(lags, half.T) for half in halves)
    weighs = [np.einsum("tn,nt->t", half, some) for half, some in zip(halves, (early, late), strict=True)]
    windows = np.lib.stride_tricks.sliding_window_view(inner, 2 * HALF)[::_STEP]
    others = np.abs(windows @ np.concatenate((early, late))) / (weighs[0] + weighs[1])
    fits = heard[-HALF:] @ early if before else heard[:HALF] @ late
    mine = early if before else late
    return Seam(fits, weighs[0] if before else weighs[1], others.max(axis=0), mine.sum(axis=0), level)


def seam_db(left: Seam, right: Seam, speech_dbfs: float) -> float:
    """How far a click stands out where two sides meet, dB; CLICK_DB under the speech none is heard."""
    weighs = left.weighs + right.weighs
    if left.fits.shape != right.fits.shape or not weighs.all():
        return 0.0
    heard_from = 10 ** ((speech_dbfs - CLICK_DB) / 20)
    middle = (left.level + right.level) / 2
    jump = np.abs(left.fits + right.fits - middle * (left.off + right.off)) / weighs
    around = np.maximum(_MASKS * np.maximum(left.near, right.near), _ORDINARY / np.sqrt(weighs))
    over = np.maximum(jump, heard_from) / np.maximum(around, heard_from)
    return float(20 * log10(over.max()))


@cache
def _shapes() -> Array:
    """Clicks as large as 1, HALF samples before the edit and behind it: (shapes, 2 * HALF)."""
    pulse = np.zeros(2 * HALF)
    pulse[HALF] = 1
    rows, away = [pulse], np.arange(2 * HALF) - HALF
    for passed in PASSED_HZ:
        rows.append(np.sinc(2 * passed / RATE_HZ * away) * np.hanning(2 * HALF + 1)[:-1])
    for count in SWINGS:
        swing = np.zeros(2 * HALF)
        swing[HALF : HALF + count], swing[HALF + count : HALF + 2 * count] = 1, -1
        rows.append(swing)
    rows.append(np.repeat([-0.5, 0.5], HALF))
    return np.array(rows)
