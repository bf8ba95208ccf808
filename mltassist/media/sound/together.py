"""Whether two files hold the same sound: a recorder's recording and the picture it was made for."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import uniform_filter1d

from mltassist.media.cache import Analysis, remembered
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.speech import RATE_HZ

LOUDNESS = Analysis("loudness curve", 1)
CURVE_HZ = 50
"""Values a second: a syllable has ten."""
_PART_S = 60
"""Seconds decoded at a time."""
EXCERPT_S = 40
"""Of the picture's sound so much is sought in the other; speech of that length is like no other."""
_LEAST_S = 5
_PART = 0.6
"""Part of the shorter of the two that is sought at most."""
_AROUND = CURVE_HZ // 2
_FLOOR_DB = -70.0


@dataclass(frozen=True, slots=True)
class Alignment:
    """Where the one begins in the other, seconds, and how alike the two are there (-1 to 1).

    ahead: how far that stands above the next best place, in standard deviations of all places.
    """

    offset_s: float
    likeness: float
    ahead: float


def loudness_curve(path: Path, length_s: Fraction, *, stream: int = 0) -> NDArray[np.float32]:
    """Level of a file's sound in dB, 50 values a second, (n,); remembered. Raises as `read_sound`."""
    block, total = RATE_HZ // CURVE_HZ, int(length_s * RATE_HZ)

    def measured() -> dict[str, NDArray[np.float32]]:
        parts = []
        for start in range(0, total, _PART_S * RATE_HZ):
            count = min(_PART_S * RATE_HZ, total - start) // block * block
            mono = read_sound(path, start, count, rate_hz=RATE_HZ, stream=stream, mono=True)[0]
            # The difference of neighbours takes rumble and hum away, which only one of the two may have.
            power = np.square(np.diff(mono, prepend=0)).reshape(-1, block).mean(axis=1)
            parts.append(10 * np.log10(power + 1e-9))
        return {"curve": np.concatenate([np.zeros(0), *parts]).astype(np.float32)}

    parameters = (("length", str(length_s)), ("stream", stream))
    return remembered(path, Analysis(LOUDNESS.name, LOUDNESS.version, parameters), measured)["curve"]


def best_match(curve: NDArray[np.float32], other: NDArray[np.float32]) -> Alignment:
    """Where the middle of `curve` lies in `other`, by normalised cross-correlation of the two.

    Correlation coefficient of the excerpt with every stretch of its length (J. P. Lewis, 1995, by sums over
    windows and the Fourier transform). The slow drift of level is taken out, since recorders set their own.
    Curves that are too short match nothing.
    """
    # The recorder may have been started later, or stopped earlier: the middle is in both.
    excerpt = _middle(curve, min(EXCERPT_S * CURVE_HZ, int(_PART * min(curve.size, other.size))))
    first = (curve.size - excerpt.size) // 2
    if min(excerpt.size, other.size) < _LEAST_S * CURVE_HZ:
        return Alignment(0.0, 0.0, 0.0)
    sought, ground = _sharpened(excerpt), _sharpened(other)
    sought -= sought.mean()
    size = fft.next_fast_len(ground.size + sought.size)
    together = fft.irfft(fft.rfft(ground, size) * np.conj(fft.rfft(sought, size)), size)
    places = ground.size - sought.size + 1
    sums = np.concatenate([[0.0], np.cumsum(ground)])
    squares = np.concatenate([[0.0], np.cumsum(np.square(ground))])
    window = sought.size
    mean = (sums[window:] - sums[:-window]) / window
    spread = np.maximum((squares[window:] - squares[:-window]) / window - np.square(mean), 1e-6)
    likeness = together[:places] / (window * np.sqrt(spread) * max(float(sought.std()), 1e-6))
    best = int(np.argmax(likeness))
    rest = np.concatenate([likeness[: max(0, best - _AROUND)], likeness[best + _AROUND :]])
    ahead = (likeness[best] - rest.max()) / max(float(rest.std()), 1e-3) if rest.size > CURVE_HZ else 0.0
    return Alignment((best - first) / CURVE_HZ, float(likeness[best]), float(ahead))


def _middle(curve: NDArray[np.float32], count: int) -> NDArray[np.float32]:
    first = max(0, (curve.size - count) // 2)
    return curve[first : first + count]


def _sharpened(curve: NDArray[np.float32]) -> NDArray[np.float64]:
    """What stands out of its second and a half; quiet does not count."""
    level = np.maximum(curve, _FLOOR_DB).astype(np.float64)
    return level - uniform_filter1d(level, 3 * CURVE_HZ // 2, mode="nearest")
