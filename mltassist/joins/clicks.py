"""Clicks: a sample that nothing around it foretells."""

from __future__ import annotations

from math import inf

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_toeplitz

from mltassist.media.sound.recordings import Sound
from mltassist.media.sound.speech import RATE_HZ

CLICK_DB = 30.0
"""A single jump so far under the speech is not heard: the ear's threshold for clicks of 0.1 ms is some 35 dB
of peak (ISO 389-6, from memory), that of speech 60 dB over silence."""
ROOM_DB = 7.0
"""Nor one that is less than so far over the room: where two stretches of noise meet the wave jumps by as much
as the noise swings, and that sounds like more of it."""
PREDICTED = 8
"""Samples from which the next is foretold; half a millisecond, as is usual for 8 kHz of band."""


def click(left: Sound, right: Sound, speech_dbfs: float = -30.0, room_dbfs: float = -inf) -> float:
    """How far the first sample after the edit lies from what the sound around it foretells, dB.

    Foretold from the samples before by linear prediction (Makhoul 1975), fitted to 10 ms on each side; over
    the largest such error in that time, or ROOM_DB over the room if that is more. What lies CLICK_DB under
    the speech or more is not heard and counts as that, so that most edits measure 0 dB or less.
    """
    near = RATE_HZ // 100
    if len(left) < near or len(right) < near:
        return 0.0
    sound = np.concatenate((left[-near:], right[:near])).astype(np.float64)
    errors = np.abs(sound + _foretold(sound, near))
    heard_from = 10 ** ((speech_dbfs - CLICK_DB) / 20)
    swings = 10 ** ((room_dbfs + ROOM_DB) / 20)
    around = max(errors[PREDICTED:near].max(), errors[near + PREDICTED :].max(), heard_from, swings)
    return float(20 * np.log10(max(errors[near], heard_from) / around))


def _foretold(sound: NDArray[np.float64], edit: int) -> NDArray[np.float64]:
    """What the PREDICTED samples before each one foretell, with its sign turned; fitted to both sides."""
    sides = sound[:edit], sound[edit:]
    lags = np.array([sum(float(s[lag:] @ s[: len(s) - lag]) for s in sides) for lag in range(PREDICTED + 1)])
    lags[0] = lags[0] * 1.0001 + 1e-10  # white noise 40 dB under the sound, so that silence can be solved
    weights = solve_toeplitz(lags[:-1], -lags[1:])
    return np.asarray(np.convolve(sound, np.concatenate(([0.0], weights)))[: len(sound)])
