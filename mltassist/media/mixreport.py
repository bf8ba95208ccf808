"""The loudness of a whole film as it would be delivered, and the one gain that brings it to a target."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import inf, isfinite, isnan, log10
from pathlib import Path

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.signal import resample_poly

from mltassist.media.meter import Loudness, Meter
from mltassist.media.mix import BLOCK_S, Report, mix_blocks
from mltassist.timeline.model import Timeline

TARGET_LUFS = -23.0
"""EBU R 128: programme loudness."""
CEILING_DBTP = -1.0
"""EBU R 128: highest true peak."""

REACH, _STRIDE, _BATCH = 16, 32, 32
"""Samples that the oversampling filter reaches to each side; samples looked at as one; how many of those at a
time: few enough that the product of matrices starts no threads, which would only wait for each other."""
_WINDOW = _STRIDE + 2 * REACH


def _oversampling() -> NDArray[np.float32]:
    """What each sample of a window of a stride and its surroundings adds to each point between: a matrix."""
    alone = np.eye(_WINDOW)
    return np.asarray(resample_poly(alone, 4, 1, axis=1)[:, 4 * REACH : 4 * (REACH + _STRIDE)], np.float32)


_BETWEEN = _oversampling()
_MOST = float(np.abs(_BETWEEN).sum(axis=0).max())


def mix_figures(
    timeline: Timeline, *, block_s: Fraction | int = BLOCK_S, on_missing: Report | None = None
) -> Loudness:
    """Loudness, range and true peak of all that a film's timeline plays.

    The mix is made and read `block_s` seconds at a time, so memory stays flat; the figures do not
    depend on where the parts meet. Files that cannot be read are silent; `on_missing` is told once of
    each.
    """
    told: set[Path] = set()

    def once(path: Path, why: str) -> None:
        if on_missing is not None and path not in told:
            told.add(path)
            on_missing(path, why)

    meter, peak = Meter(), 0.0
    nothing = np.zeros((2, REACH), np.float32)
    tail = nothing
    for part in mix_blocks(timeline, block_s, on_missing=once):
        meter.add(part)
        # The last samples wait for those that come after them, which bend the wave between them.
        joined = np.concatenate((tail, part), axis=1)
        peak = highest_between(joined, peak)
        tail = joined[:, -2 * REACH :]
    peak = highest_between(np.concatenate((tail, nothing, nothing), axis=1), peak)
    return replace(meter.read(), peak_dbtp=20 * log10(peak) if peak else -inf)


def highest_between(sound: NDArray[np.float32], known: float = 0.0) -> float:
    """The highest value of the wave on and between the samples (BS.1770-4 Annex 2), or `known` if higher.

    sound: (channels, samples) at 48 kHz, of which the first and the last REACH samples only bend the
    others' wave. Four times oversampled like `loudness.true_peak_dbtp`, but only where samples are high
    enough that the wave can pass what is known: it is at most the highest sample that the filter reaches
    times the sum of its taps' sizes.
    """
    count = sound.shape[1] - 2 * REACH
    if count < _STRIDE:
        return known
    starts = np.minimum(np.arange(0, count, _STRIDE), count - _STRIDE)
    size = np.abs(sound)
    highest = max(known, float(size[:, REACH:-REACH].max()))
    # Windows are two strides long; one that starts between two strides touches three.
    strides = np.maximum.reduceat(size, np.arange(0, sound.shape[1], _STRIDE), axis=1)
    last = np.minimum((starts + _WINDOW - 1) // _STRIDE, strides.shape[1] - 1)
    near = np.maximum(np.maximum(strides[:, starts // _STRIDE], strides[:, last - 1]), strides[:, last])
    channel, place = np.nonzero(near * _MOST > highest)
    # The loudest first: after them most of the others need no look.
    order = np.argsort(-near[channel, place])
    channel, place = channel[order], place[order]
    windows = sliding_window_view(sound, _WINDOW, axis=1)
    for at in range(0, order.size, _BATCH):
        if near[channel[at], place[at]] * _MOST <= highest:
            break
        chosen = slice(at, at + _BATCH)
        inside = windows[channel[chosen], starts[place[chosen]]]
        highest = max(highest, float(np.abs(inside @ _BETWEEN).max()))
    return highest


def normalising_gain_db(
    figures: Loudness, target_lufs: float = TARGET_LUFS, ceiling_dbtp: float = CEILING_DBTP
) -> float:
    """The gain, for the whole film, that brings it to `target_lufs`, or as near as `ceiling_dbtp` lets it.

    0 for a film without sound. Raises ValueError when the figures were read without peaks.
    """
    if isnan(figures.peak_dbtp):
        raise ValueError("the true peak was not read; use a meter that reads peaks")
    if not isfinite(figures.integrated_lufs):
        return 0.0
    return min(target_lufs - figures.integrated_lufs, ceiling_dbtp - figures.peak_dbtp)
