"""How much of speech comes through what sounds beneath it: an index of its intelligibility, 0 to 1.

The bands, their importance and the range of 30 dB in which a band counts in parts are those of the Speech
Intelligibility Index, ANSI S3.5-1997 (one-third octave procedure, table 3; written from memory: the
weights sum to one, and by threes to the weights of its octave table). As a mix has no sound pressure, nothing
is taken off for a level of listening, for thresholds of hearing, or for masking from band to band. What lies
beneath speech swells and falls, so the index is taken in short windows and averaged, after Rhebergen and
Versfeld, J. Acoust. Soc. Am. 117(4), 2005. From about 0.75 on speech is understood with ease, under 0.45 with
trouble (ANSI S3.5, annex; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import rfft

from mltassist.media.sound.decode import MIX_HZ

CENTRES_HZ = np.array(
    [160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000]
)
# fmt: off
IMPORTANCE = np.array(
    [.0083, .0095, .0150, .0289, .0440, .0578, .0653, .0711, .0818,
     .0844, .0882, .0898, .0868, .0844, .0771, .0527, .0364, .0185]
)
# fmt: on
CLARITY_WINDOW = MIX_HZ // 25
"""40 ms: shorter than a consonant, and the lowest band holds two lines of its spectrum."""
HALF_RANGE_DB = 15.0
"""Peaks of speech lie so far over its mean, and what is so far under it is no speech any more."""
SPOKEN_DB = -15.0
"""Windows weaker than this against the mean of all are rests: nothing in them can be covered."""
_EDGES_HZ = CENTRES_HZ[:, None] * 2.0 ** (np.array([-1, 1]) / 6)
_LINES_HZ = np.fft.rfftfreq(CLARITY_WINDOW, 1 / MIX_HZ)
_OVER_EDGE = np.greater_equal(_LINES_HZ, _EDGES_HZ[..., None])
_LINES = int((_EDGES_HZ.max() > _LINES_HZ).sum())
"""Lines of the spectrum up to the highest band."""
_IN_BAND = (_OVER_EDGE[:, 0] & ~_OVER_EDGE[:, 1]).astype(np.float32).T[:_LINES]
_BATCH = 25
"""Windows at a time: so few that the product of matrices starts no threads, which would only wait."""
_TAPER = np.hanning(CLARITY_WINDOW).astype(np.float32)

Powers = NDArray[np.float32]
"""Power in each band of each window: shape (windows, 18)."""


class Bands:
    """Reads stereo sound at 48 kHz part by part, and keeps its power in each band of each window."""

    def __init__(self) -> None:
        self._rest = np.zeros((2, 0), np.float32)
        self._found: list[Powers] = []

    def add(self, sound: NDArray[np.float32]) -> None:
        """Read the next part, shape (2, samples)."""
        sound = np.concatenate((self._rest, sound), axis=1)
        whole = sound.shape[1] // CLARITY_WINDOW
        self._rest = sound[:, whole * CLARITY_WINDOW :]
        if not whole:
            return
        mono = np.array_equal(sound[0], sound[1])  # on both sides: half the work
        windows = sound[: 1 if mono else 2, : whole * CLARITY_WINDOW].reshape(-1, whole, CLARITY_WINDOW)
        for at in range(0, whole, _BATCH):
            lines = rfft(windows[:, at : at + _BATCH] * _TAPER, axis=2)[..., :_LINES]
            power = (np.square(lines.real) + np.square(lines.imag)).sum(axis=0) * np.float32(1 + mono)
            self._found.append(power.astype(np.float32) @ _IN_BAND)

    @property
    def powers(self) -> Powers:
        """All that was read; what is left of a window at the end is not in it."""
        return np.concatenate([np.zeros((0, len(CENTRES_HZ)), np.float32), *self._found])


@dataclass(frozen=True, slots=True)
class SpokenBands:
    """Speech as the index needs it: its mean power in each band, and the windows in which it is spoken."""

    mean: NDArray[np.float64]
    spoken: NDArray[np.bool_]

    @classmethod
    def of(cls, speech: Powers) -> SpokenBands:
        """From the powers of speech alone."""
        loud = speech.sum(axis=1, dtype=np.float64)
        least = loud.mean() * 10 ** (SPOKEN_DB / 10) if loud.size else 0.0
        spoken = loud > least
        mean = speech[spoken].mean(axis=0, dtype=np.float64) if spoken.any() else np.zeros(len(CENTRES_HZ))
        return cls(mean, spoken)


def intelligibility(speech: SpokenBands, beneath: Powers) -> float:
    """The index of speech over what sounds beneath it in the same windows; nan where nobody speaks.

    A band that nothing covers counts whole.
    """
    covering = beneath[speech.spoken[: len(beneath)]].astype(np.float64)
    if not speech.spoken.any() or not len(covering):
        return float("nan")
    with np.errstate(divide="ignore", invalid="ignore"):
        over_db = 10 * np.log10(speech.mean / covering)
    audible = np.clip((over_db + HALF_RANGE_DB) / (2 * HALF_RANGE_DB), 0.0, 1.0)
    audible[covering <= 0] = 1.0
    return float((audible @ IMPORTANCE).mean())
