"""Whose voice a recording holds, so far as it tells whether two files are one take of one speaker."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, log, nan

import numpy as np
from scipy.fft import dct

from mltassist.joins.measures import FRAME, PITCHED, Side, pitches
from mltassist.joins.rooms import Array

CEPSTRA = 12
"""Coefficients 1 to 12 of the spectrum: the zeroth is the level."""
_LEAST = 100
"""Frames of 10 ms in which someone speaks, without which a voice is not known."""
PITCHES = 400
"""Frames from which its middle pitch is taken, all over the recording."""
ALIKE_VOICES = 10
"""Frames that say the same: sounds of speech last about a tenth of a second (common practice)."""
OCTAVE = 12.0
"""A step of the voice's middle pitch by so many semitones counts as much as a distance of 1."""
_FLOOR = 0.05
"""Added to each variance, so that a voice that hardly moves has one."""
ONE, TWO = 0.2, 0.25
"""Distance of two recordings up to which they are one speaker at one microphone, and from which two. Set on
twenty open recordings, whose halves differ by 0.19 at the most: of 3,148 pairs of fifths of two voices, with
middle pitches within four semitones, none is taken for one, of 1,250 pairs of seventeen others six."""


@dataclass(frozen=True, slots=True)
class Speaker:
    """The voice of a recording: cepstra of its loud frames, their mean (12,) and covariance (12, 12).

    frames: how many there are; pitch_hz: its middle pitch, nan where it is not known.
    """

    mean: Array
    covariance: Array
    frames: int
    pitch_hz: float

    def as_array(self) -> Array:
        """All of it in one row, to be kept."""
        return np.concatenate((self.mean, self.covariance.ravel(), [self.frames, self.pitch_hz]))

    @classmethod
    def of(cls, row: Array) -> Speaker:
        """What was kept."""
        covariance = row[CEPSTRA:-2].reshape(CEPSTRA, CEPSTRA)
        return cls(row[:CEPSTRA], covariance, int(row[-2]), float(row[-1]))


UNKNOWN = Speaker(np.full(CEPSTRA, nan), np.full((CEPSTRA, CEPSTRA), nan), 0, nan)


def speaker(whole: Side) -> Speaker:
    """The voice of a recording; UNKNOWN where nobody speaks for a second in it."""
    spoken = np.flatnonzero(whole.speech > 0.6)
    if len(spoken) < _LEAST:
        return UNKNOWN
    level = whole.level_db[spoken]
    loud = spoken[level > np.percentile(level, 30)]
    cepstra = dct(whole.bands_db[loud] * (log(10) / 10), axis=1, norm="ortho")[:, 1 : CEPSTRA + 1]
    pitch = _pitch(whole, loud[:: max(3, len(loud) // PITCHES)])
    return Speaker(cepstra.mean(axis=0), np.cov(cepstra.T), len(loud), pitch)


def _pitch(whole: Side, frames: np.ndarray) -> float:
    middles = [at for frame in frames if PITCHED <= (at := frame * FRAME) <= len(whole.sound) - PITCHED]
    if not middles:
        return nan
    found = pitches(np.stack([whole.sound[at - PITCHED : at + PITCHED] for at in middles]))
    return float(np.median(found)) if len(found) else nan


def likeness(one: Speaker, other: Speaker) -> float:
    """From 1 where two recordings are of one speaker at one microphone, to 0 where not, or nobody knows.

    The distance of two Gaussians of cepstra (Bhattacharyya 1943: an eighth of the square of Mahalanobis'
    distance of their means, and how much their covariances differ), each part without what so few frames
    differ by chance, and a step of their middle pitches.
    """
    if not one.frames or not other.frames:
        return 0.0
    chance = ALIKE_VOICES * (1 / one.frames + 1 / other.frames)
    step = one.mean - other.mean
    means = (float(step @ np.linalg.solve(_spread(one, other), step)) - CEPSTRA * chance) / 8
    leap = 12 * np.log2(one.pitch_hz / other.pitch_hz) / OCTAVE
    apart = means + varied(one, other, chance) + (0.0 if isnan(leap) else leap**2)
    return float(np.interp(apart, (ONE, TWO), (1.0, 0.0)))


def varied(one: Speaker, other: Speaker, chance: float) -> float:
    """How much the covariances of two voices differ; 0 where they differ no more than by chance.

    By chance half the logarithm of the ratio of determinants grows to p (p + 1) / 16 times the sum of 1 / n,
    by its second order where both are drawn from one Wishart distribution. Of few frames that is too much, so
    it takes nothing off what the means tell.
    """
    own = (np.linalg.slogdet(_spread(voice, voice))[1] for voice in (one, other))
    differ = (np.linalg.slogdet(_spread(one, other))[1] - sum(own) / 2) / 2
    return max(0.0, float(differ) - CEPSTRA * (CEPSTRA + 1) / 16 * chance)


def _spread(one: Speaker, other: Speaker) -> Array:
    return (one.covariance + other.covariance) / 2 + _FLOOR * np.eye(CEPSTRA)
