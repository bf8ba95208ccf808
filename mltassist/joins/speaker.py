"""Whose voice a recording holds, so far as it tells whether two files are one take of one speaker."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, isnan, nan

import numpy as np

from mltassist.joins.measures import BANDS, FRAME, PITCHED, Side, pitches
from mltassist.joins.rooms import Array

LEAST = 100
"""Frames of 10 ms in which someone speaks, without which a voice is not known."""
PITCHES = 400
"""Frames from which its middle pitch is taken, all over the recording."""
SEMITONES_PER_DB = 2.0
"""A step of the voice's middle pitch by so much tells two speakers apart as a decibel of spectrum does."""
ONE, TWO = 1.8, 2.6
"""Difference of two recordings up to which they are one speaker at one microphone, and from which two. Halves
of one recording differ by 1.8 at the most, two voices in the same sort of prompts by 2.6 at the least."""


@dataclass(frozen=True, slots=True)
class Speaker:
    """The voice of a recording: levels of its loud frames in 24 mel bands (dB, level apart), pitch (Hz)."""

    spectrum_db: Array
    pitch_hz: float


UNKNOWN = Speaker(np.full(BANDS, nan), nan)


def speaker(whole: Side) -> Speaker:
    """The voice of a recording; of nan where nobody speaks for a second in it."""
    spoken = np.flatnonzero(whole.speech > 0.6)
    if len(spoken) < LEAST:
        return UNKNOWN
    level = whole.level_db[spoken]
    loud = spoken[level > np.percentile(level, 30)]
    spectrum = whole.bands_db[loud].mean(axis=0)
    return Speaker(spectrum - spectrum.mean(), _pitch(whole, loud[:: max(3, len(loud) // PITCHES)]))


def _pitch(whole: Side, frames: np.ndarray) -> float:
    middles = [at for frame in frames if PITCHED <= (at := frame * FRAME) <= len(whole.sound) - PITCHED]
    if not middles:
        return nan
    found = pitches(np.stack([whole.sound[at - PITCHED : at + PITCHED] for at in middles]))
    return float(np.median(found)) if len(found) else nan


def likeness(one: Speaker, other: Speaker) -> float:
    """From 1 where two recordings are of one speaker at one microphone, to 0 where not, or nobody knows.

    Their long-term spectra differ by some dB (RMS over bands), their middle pitches by some semitones.
    """
    difference = float(np.sqrt(np.mean((one.spectrum_db - other.spectrum_db) ** 2)))
    if isnan(difference):
        return 0.0
    leap = 12 * abs(np.log2(one.pitch_hz / other.pitch_hz))
    apart = difference if isnan(leap) else hypot(difference, leap / SEMITONES_PER_DB)
    return float(np.interp(apart, (ONE, TWO), (1.0, 0.0)))
