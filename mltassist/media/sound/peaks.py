"""The highest value of a wave between its samples, looked for only where it can be."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from mltassist.media.sound.filters import resampled

REACH, STRIDE, _BATCH = 16, 32, 32
"""Samples that the oversampling filter reaches to each side; samples looked at as one; how many of those at a
time: few enough that the product of matrices starts no threads, which would only wait for each other."""
_WINDOW = STRIDE + 2 * REACH


@cache
def _oversampling() -> tuple[NDArray[np.float32], float]:
    """What each sample of a window of a stride and its surroundings adds to each point between: a matrix.

    With the most that the samples of a window, all of size 1, can add up to.
    """
    alone = np.eye(_WINDOW)
    between = np.asarray(resampled(alone, 4, 1)[:, 4 * REACH : 4 * (REACH + STRIDE)], np.float32)
    return between, float(np.abs(between).sum(axis=0).max())


def most_between() -> float:
    """How many times higher than the samples around it the wave can be between them."""
    return _oversampling()[1]


def highest_between(sound: NDArray[np.float32], known: float = 0.0) -> float:
    """The highest value of the wave on and between the samples (BS.1770-4 Annex 2), or `known` if higher.

    sound: (channels, samples) at 48 kHz, of which the first and the last REACH samples only bend the
    others' wave. Four times oversampled, but only where samples are high
    enough that the wave can pass what is known: it is at most the highest sample that the filter reaches
    times the sum of its taps' sizes.
    """
    count = sound.shape[1] - 2 * REACH
    if count < STRIDE:
        return known
    between, most = _oversampling()
    starts = np.minimum(np.arange(0, count, STRIDE), count - STRIDE)
    size = np.abs(sound)
    # Windows are two strides long; one that starts between two strides touches three.
    strides = np.maximum.reduceat(size, np.arange(0, sound.shape[1], STRIDE), axis=1)
    # Those at both ends hold samples that only bend the wave: there each is looked at by itself.
    tail = max(STRIDE, (strides.shape[1] - 2) * STRIDE)
    ends = size[:, REACH : STRIDE + 1], size[:, tail:-REACH], strides[:, 1:-2]
    highest = max(known, *(float(part.max()) for part in ends if part.size))
    last = np.minimum((starts + _WINDOW - 1) // STRIDE, strides.shape[1] - 1)
    near = np.maximum(np.maximum(strides[:, starts // STRIDE], strides[:, last - 1]), strides[:, last])
    channel, place = np.nonzero(near * most > highest)
    # The loudest first: after them most of the others need no look.
    order = np.argsort(-near[channel, place])
    channel, place = channel[order], place[order]
    windows = sliding_window_view(sound, _WINDOW, axis=1)
    for at in range(0, order.size, _BATCH):
        if near[channel[at], place[at]] * most <= highest:
            break
        chosen = slice(at, at + _BATCH)
        inside = windows[channel[chosen], starts[place[chosen]]]
        highest = max(highest, float(np.abs(inside @ between).max()))
    return highest
