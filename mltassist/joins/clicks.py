"""Clicks: a sample that nothing around it foretells, and a jump that dies away."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import inf

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, rfft
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
DYING = (8, 32, 112, 320)
"""Samples in which a jump falls to a third: what a high pass leaves of a step, 320 Hz to 8 Hz."""
LENGTH = 320  # samples, 20 ms, in which a jump that dies away is looked for
NEAR_SAMPLES = 1120
"""Samples (70 ms) before and after an edit that tell how its source sounds, and what else rises there."""
_STEP = 20  # samples between the places behind it where another is looked for
_ORDINARY = 2.1
"""So many standard deviations of such a jump are ordinary: noise alone has them every tenth time or so."""
_MASKS = 0.6
"""A jump beside others has to be larger than this part of the largest."""

Array = NDArray[np.float64]


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


def _foretold(sound: Array, edit: int) -> Array:
    """What the PREDICTED samples before each one foretell, with its sign turned; fitted to both sides."""
    sides = sound[:edit], sound[edit:]
    lags = np.array([sum(float(s[lag:] @ s[: len(s) - lag]) for s in sides) for lag in range(PREDICTED + 1)])
    lags[0] = lags[0] * 1.0001 + 1e-10  # white noise 40 dB under the sound, so that silence can be solved
    weights = solve_toeplitz(lags[:-1], -lags[1:])
    return np.asarray(np.convolve(sound, np.concatenate(([0.0], weights)))[: len(sound)])


@dataclass(frozen=True, slots=True)
class Onset:
    """A jump with which a side begins, for each time of DYING in which it may die away, in full scale.

    jump: as large as it seems, shape (times,); around: as large as it has to be to stand out there.
    """

    jump: Array
    around: Array

    def click_db(self, speech_dbfs: float) -> float:
        """How far it stands out, dB; what lies CLICK_DB under the speech or more is not heard."""
        heard_from = 10 ** ((speech_dbfs - CLICK_DB) / 20)
        over = np.maximum(self.jump, heard_from) / np.maximum(self.around, heard_from)
        return float(20 * np.log10(over.max()))


NO_ONSET = Onset(np.zeros(1), np.ones(1))
"""Of a side that is too short to tell."""


def onset(sound: Sound, cut: int, silent_dbfs: float) -> Onset:
    """The jump with which the part of a source from sample `cut` on begins.

    A matched filter for a known place (North 1943; Van Trees 1968): the weights that tell a decay from noise
    with the autocorrelation of the source around the edit. In a loud room the single sample at the edit may
    lie within what the noise swings, while what dies away after it adds up. What is quieter than silent_dbfs
    is not heard in the source.
    """
    sides = sound[max(0, cut - NEAR_SAMPLES) : cut], sound[cut:][:NEAR_SAMPLES]
    before, after = (part.astype(np.float64) for part in sides)
    if len(after) <= LENGTH:
        return NO_ONSET
    shapes = _shapes()
    lags = autocorrelation(before, after[LENGTH:])  # without the jump itself
    lags[0] = lags[0] * 1.0001 + 10 ** (silent_dbfs / 10) + 1e-12
    weights = solve_toeplitz(lags, shapes.T)
    spread = np.sqrt(np.einsum("tn,nt->t", shapes, weights))
    jump = np.abs(after[:LENGTH] @ weights) / spread**2
    further = np.pad(after[LENGTH:], (0, max(0, 2 * LENGTH - len(after))))
    others = np.lib.stride_tricks.sliding_window_view(further, LENGTH)[::_STEP]
    near = (np.abs(others @ weights) / spread**2).max(axis=0)
    return Onset(jump, np.maximum(_MASKS * near, _ORDINARY / spread))


@cache
def _shapes() -> Array:
    """Jumps of 1 that die away, shape (times, LENGTH)."""
    return np.exp(-np.arange(LENGTH) / np.array(DYING, dtype=np.float64)[:, None])


def autocorrelation(*parts: Array) -> Array:
    """First LENGTH lags of what these have in common, fading out so that they are those of some noise."""
    count = 4 * NEAR_SAMPLES
    lines = np.zeros(count // 2 + 1)
    for part in parts:
        if len(part):
            lines += np.square(np.abs(rfft(part, count)))
    lags = irfft(lines, count)[:LENGTH] / max(1, sum(map(len, parts)))
    return np.asarray(lags * np.hanning(2 * LENGTH + 1)[LENGTH : 2 * LENGTH])
