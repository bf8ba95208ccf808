"""What kind of sound a recording holds: speech, music, noise or silence, from a few seconds here and there.

All measures are on mono arrays at 16 kHz and need no training; how they speak for a kind is a table of
weights (`KIND_WEIGHTS`) that was fitted on labelled recordings.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import median_filter

from mltassist.media.sound.filters import hann
from mltassist.media.sound.speech import HOP, RATE_HZ

Mono = NDArray[np.float32]

_FRAME, _STEP = 1024, 256  # 64 ms, every 16 ms
_LONG, _LONG_STEP, _LINES = 2048, 1024, 9  # 128 ms, every 64 ms: partials stand apart; lines of 0.6 s
_LINES_HZ = 4000
_LOW_HZ, _HIGH_HZ, _BANDS = 100, 7000, 20
_SILENT_DB = -65.0
"""Mean level under which nothing is heard: the noise of a quiet preamplifier lies higher."""
_LAGS_S = (0.25, 2.0)
"""Between two beats of music: 240 to 30 a minute."""
_QUIET = 1e-10


class Kind(StrEnum):
    """What is heard most."""

    SPEECH = "speech"
    MUSIC = "music"
    NOISE = "noise"
    SILENCE = "silence"


@dataclass(frozen=True, slots=True)
class Traits:
    """Measures of a stretch of sound.

    level_db: mean level, dBFS. modulation: part of the movement of level in 20 bands that lies between 2
    and 8 Hz, 0 to 1. quiet_frames: part of the frames under half the mean power of their second. flatness:
    0 one tone, 1 white noise. flux: how much the spectrum changes from frame to frame, 0 to 1. tonality:
    part of the power in lines that stay, 0 to 1. pulse: how regularly it begins anew, 0 to 1. speech: part
    that is speech by the detector, 0 to 1. runs: length of its stretches of speech, seconds.
    """

    level_db: float
    modulation: float
    quiet_frames: float
    flatness: float
    flux: float
    tonality: float
    pulse: float
    speech: float
    runs_s: float


def traits(mono: Mono, chance: NDArray[np.float32]) -> Traits:
    """Measure a stretch of at least a second at 16 kHz; `chance` is that of speech for each HOP samples."""
    power, hz = spectrogram(mono, _FRAME, _STEP)
    long, _ = spectrogram(mono, _LONG, _LONG_STEP)
    bands = _banded(power, hz)
    spoken = chance >= 0.5
    starts = np.count_nonzero(np.diff(np.concatenate([[0], spoken.astype(np.int8)])) == 1)
    return Traits(
        level_db=float(10 * np.log10(np.mean(np.square(mono, dtype=np.float64)) + _QUIET)),
        modulation=modulation(bands, RATE_HZ / _STEP),
        quiet_frames=quiet_frames(power.sum(axis=0), RATE_HZ / _STEP),
        flatness=flatness(power, hz),
        flux=flux(power),
        tonality=tonality(long),
        pulse=pulse(bands, RATE_HZ / _STEP),
        speech=float(spoken.mean()) if spoken.size else 0.0,
        runs_s=float(spoken.sum() * HOP / RATE_HZ / max(1, starts)),
    )


def bands_spoken(mono: Mono, chance: NDArray[np.float32]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Power in 20 bands (20, frames) every 16 ms, and in which of these frames someone speaks."""
    power, hz = spectrogram(mono, _FRAME, _STEP)
    return _banded(power, hz), np.repeat(chance >= 0.5, HOP // _STEP)


def spectrogram(mono: Mono, frame: int, step: int) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Power (bins, frames) under a Hann window, and the bins' frequencies."""
    padded = mono if mono.size >= frame else np.pad(mono, (0, frame - mono.size))
    frames = np.lib.stride_tricks.sliding_window_view(padded, frame)[::step]
    bins = fft.rfft(frames * hann(frame), axis=1)
    return (np.square(bins.real) + np.square(bins.imag)).T, fft.rfftfreq(frame, 1 / RATE_HZ)


def _banded(power: NDArray[np.float32], hz: NDArray[np.float64]) -> NDArray[np.float64]:
    edges = np.searchsorted(hz, np.geomspace(_LOW_HZ, _HIGH_HZ, _BANDS + 1))
    rows = [power[a : max(b, a + 1)].sum(axis=0) for a, b in pairwise(edges)]
    return np.array(rows, np.float64)


def modulation(bands: NDArray[np.float64], rate_hz: float) -> float:
    """How much of the movement of level is at the pace of syllables; `bands` is power (bands, frames).

    Energy of modulation around 4 Hz, where speech has its maximum (T. Houtgast and H. J. M. Steeneken, 1985),
    as a feature for telling it from music (E. Scheirer and M. Slaney, 1997). Here it is the share of 2 to
    8 Hz in the spectrum of the amplitude from 0.5 to 25 Hz, the bands weighed by their amplitude.
    """
    amplitude = np.sqrt(bands)
    moving = amplitude - amplitude.mean(axis=1, keepdims=True)
    spectrum = np.square(np.abs(fft.rfft(moving * np.hanning(moving.shape[1]), axis=1)))
    hz = fft.rfftfreq(moving.shape[1], 1 / rate_hz)
    whole = spectrum[:, (hz >= 0.5) & (hz <= 25)].sum(axis=1)
    near = spectrum[:, (hz >= 2) & (hz <= 8)].sum(axis=1)
    weight = amplitude.mean(axis=1)
    return float((near / (whole + _QUIET) * weight).sum() / (weight.sum() + _QUIET))


def quiet_frames(power: NDArray[np.float32], rate_hz: float) -> float:
    """Part of the frames whose power is under half the mean of their second (J. Saunders, 1996)."""
    count = max(1, round(rate_hz))
    whole = power[: max(count, power.size // count * count)]
    seconds = whole.reshape(-1, count) if whole.size % count == 0 else whole[None]
    return float((seconds < 0.5 * seconds.mean(axis=1, keepdims=True)).mean())


def flatness(power: NDArray[np.float32], hz: NDArray[np.float64]) -> float:
    """Geometric by arithmetic mean of the power spectrum (A. H. Gray and J. D. Markel, 1974).

    Over the voice's band, the mean of all frames weighed by their power; white noise gives about 0.56, for
    the power of its bins is spread as an exponential is (exp of minus Euler's constant).
    """
    inside = power[(hz >= _LOW_HZ) & (hz <= _HIGH_HZ)].astype(np.float64) + _QUIET
    ratio = np.exp(np.log(inside).mean(axis=0)) / inside.mean(axis=0)
    weight = np.sqrt(inside.sum(axis=0))
    return float((ratio * weight).sum() / weight.sum())


def flux(power: NDArray[np.float32]) -> float:
    """Distance of neighbouring spectra of amplitude, each of unit length (E. Scheirer and M. Slaney, 1997).

    0 where nothing changes, 1 where no two share anything; frames that overlap are left out.
    """
    amplitude = np.sqrt(power[:, :: _FRAME // _STEP].astype(np.float64))
    unit = amplitude / (np.linalg.norm(amplitude, axis=0) + _QUIET)
    if unit.shape[1] < 2:
        return 0.0
    return float(np.median(np.linalg.norm(np.diff(unit, axis=1), axis=0)) / 2**0.5)


def tonality(power: NDArray[np.float32]) -> float:
    """Part of the power that stays in its line for over half a second, from power (bins, frames).

    Medians along time keep lines, medians along frequency keep bursts (D. FitzGerald, 2010); the part is that
    of the soft mask of the former. Noise gives about a half, voices whose pitch moves less than held tones.
    """
    amplitude = np.sqrt(power[: power.shape[0] * _LINES_HZ * 2 // RATE_HZ])
    lines = median_filter(amplitude, (1, _LINES), mode="nearest").astype(np.float64) ** 2
    bursts = median_filter(amplitude, (17, 1), mode="nearest").astype(np.float64) ** 2
    mask = lines / (lines + bursts + _QUIET)
    weight = np.square(amplitude, dtype=np.float64)
    return float((mask * weight).sum() / (weight.sum() + _QUIET))


def pulse(bands: NDArray[np.float64], rate_hz: float) -> float:
    """How well what begins comes again after some beat: the pulse metric (E. Scheirer and M. Slaney, 1997).

    The highest autocorrelation, from `_LAGS_S` apart, of the summed rises of level in all bands.
    """
    levels = np.log10(bands + 1e-7 * bands.mean() + _QUIET)
    rises = np.maximum(0, np.diff(levels, axis=1)).sum(axis=0)
    rises = rises - rises.mean()
    size = fft.next_fast_len(2 * rises.size)
    auto = fft.irfft(np.square(np.abs(fft.rfft(rises, size))), size)[: rises.size]
    first, last = (int(lag * rate_hz) for lag in _LAGS_S)
    overlap = 1 - np.arange(rises.size) / rises.size
    part = auto[first : min(last, rises.size // 2)] / overlap[first : min(last, rises.size // 2)]
    return float(np.clip(part.max() / (auto[0] + _QUIET), 0, 1)) if part.size else 0.0


# --- what the measures say ------------------------------------------------------------------------

KIND_WEIGHTS: dict[Kind, tuple[float, ...]] = {
    Kind.SPEECH: (2.8, -2.9, -4.3, 0.4, 4.8, 2.1, 3.3, -1.2),
    Kind.MUSIC: (1.5, 7.6, 8.0, -0.4, 1.5, -0.9, -1.3, -8.1),
    Kind.NOISE: (-4.3, -4.7, -3.7, 0.0, -6.3, -1.2, -2.0, 9.3),
}
"""For speech, tonality, pulse, logarithm of flatness, modulation, flux, quiet frames, and the constant.

Logistic weights, fitted by tests/rushes/labelled/fit_kinds.py on windows of 4.8 s of the tuning half of the
labelled rushes and of the example film.
"""


def kind_chances(measured: Traits) -> dict[Kind, float]:
    """The chance of each kind; they sum to 1."""
    if measured.level_db < _SILENT_DB:
        return {kind: float(kind is Kind.SILENCE) for kind in Kind}
    row = kind_row(measured)
    scores = np.array([np.dot(row, weights) for weights in KIND_WEIGHTS.values()])
    parts = np.exp(scores - scores.max())
    chances = dict(zip(KIND_WEIGHTS, (parts / parts.sum()).tolist(), strict=True))
    return {kind: chances.get(kind, 0.0) for kind in Kind}


def kind_row(measured: Traits) -> NDArray[np.float64]:
    """The measures in the order of their weights, and 1 for the constant."""
    return np.array(
        [
            measured.speech,
            measured.tonality,
            measured.pulse,
            np.log10(measured.flatness + 1e-3),
            measured.modulation,
            measured.flux,
            measured.quiet_frames,
            1.0,
        ]
    )
