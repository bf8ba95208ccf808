"""The room around a voice: what is heard of it between the words, and how two of them differ.

A room is compared inside the bands in which it is heard, and by what most of them say: what a telephone or a
coder has cut away tells nothing, and neither does rumble that comes and goes in one band.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

PERCENTILE = 3.0
SPREAD_DB = 3.0
TRIMMED = 0.25
"""Part of the heard bands that is left out at either end before their steps are averaged."""
BAND_DB = 14.0
"""Each of 24 bands holds so much less than all of them together."""
_HEARD_DB = 6.0
"""So far over the floor a band counts fully; at the floor, not at all."""
MOST_DB = 6.0
"""A band's difference in colour counts up to this much."""

Array = NDArray[np.float64]
Room = tuple[float, Array]
"""Level of a room and its levels in 24 mel bands, dB."""


def quietest(level_db: Array, bands_db: Array) -> Room | None:
    """The room in a stretch: mean power of its quiet frames in dB, and medians of their band levels (24,).

    Quiet are the frames up to SPREAD_DB above the median of the quietest few in a hundred: fast speech
    leaves no more than these between its sounds, while in a long pause all of it counts, so that the level
    does not hang on how much was said. None where there is less than a second to judge from.
    """
    if len(level_db) < 100:
        return None
    least = np.median(level_db[level_db <= np.percentile(level_db, PERCENTILE)])
    quiet = level_db <= least + SPREAD_DB
    level = 10 * np.log10(np.mean(10 ** (level_db[quiet] / 10)))
    return float(level), np.asarray(np.median(bands_db[quiet], axis=0))


def compare_rooms(left: Room, right: Room, floor_db: float) -> tuple[float, float]:
    """Step in level (dB, positive when louder after) and difference in spectrum (dB RMS, level apart).

    What lies under `floor_db` is not heard beside the speech, and counts as that.
    """
    step, colour = compared(left[1], right[1], floor_db)
    return float(step), float(colour)


def compared(left_db: Array, right_db: Array, floor_db: float) -> tuple[Array, Array]:
    """The same for many pairs of rooms by their band levels (..., 24); two arrays of shape (...)."""
    floor = floor_db - BAND_DB
    left, right = np.maximum(floor, left_db), np.maximum(floor, right_db)
    differ = right - left
    heard = np.clip((np.maximum(left, right) - floor) / _HEARD_DB, 0.0, 1.0)
    step = _middle(differ, heard)
    apart = np.clip(differ - step[..., None], -MOST_DB, MOST_DB)
    return step, np.sqrt(np.mean(heard * apart**2, axis=-1))


def _middle(values: Array, weights: Array) -> Array:
    """Weighted mean of values (..., n) without TRIMMED of the weight at either end; 0 where all weigh 0."""
    order = np.argsort(values, axis=-1)
    values, weights = (np.take_along_axis(one, order, axis=-1) for one in (values, weights))
    whole = np.maximum(weights.sum(axis=-1, keepdims=True), 1e-12)
    until = np.cumsum(weights, axis=-1) / whole
    since = until - weights / whole
    kept = np.maximum(0.0, np.minimum(until, 1 - TRIMMED) - np.maximum(since, TRIMMED))
    return np.asarray((kept * values).sum(axis=-1) / np.maximum(kept.sum(axis=-1), 1e-12))
