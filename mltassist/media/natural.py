"""The most alive stretch of a natural-sound recording."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from mltassist.media.decode import as_mono
from mltassist.media.loudness import block_energies

BLOCKS_PER_S = 10  # blocks of 100 ms
CLIPPED = 0.999
CLIPPING_COST = 20.0


def aliveness(sound: NDArray[np.float32], rate_hz: int) -> NDArray[np.float64]:
    """How much happens in every 100 ms of a recording, shape (blocks,), in dB-like units.

    Loudness of the block above the recording's median, plus the rise of its spectrum since the block
    before (positive spectral flux, dB, averaged over bands): an event is louder and new. Blocks with
    clipped samples are marked down. Empty sound gives an empty array.
    """
    mono = as_mono(sound)[0]
    block = rate_hz // BLOCKS_PER_S
    count = len(mono) // block
    if count == 0:
        return np.zeros(0)
    energy = block_energies(sound[:, : count * block], rate_hz, hop_s=Fraction(1, BLOCKS_PER_S))[:count]
    level = 10 * np.log10(np.maximum(energy, 1e-10))
    _, _, spectrum = signal.stft(mono, rate_hz, nperseg=2048, noverlap=1024, padded=True)
    bands = np.array_split(np.abs(spectrum[2:]) ** 2, 24, axis=0)
    band_db = 10 * np.log10(np.array([band.mean(axis=0) for band in bands]) + 1e-9)
    flux = np.maximum(0.0, np.diff(band_db, axis=1, prepend=band_db[:, :1])).mean(axis=0)
    place = np.minimum(np.arange(len(flux)) * 1024 // block, count - 1)
    rise = np.zeros(count)
    np.maximum.at(rise, place, flux)
    peaks = np.abs(sound[:, : count * block]).max(axis=0)
    clipped = peaks.reshape(count, block).max(axis=1) >= CLIPPED
    return np.asarray(level - np.median(level) + rise - CLIPPING_COST * clipped, dtype=np.float64)


def best_start(alive: NDArray[np.float64], window: int) -> int:
    """First block of the window of `window` blocks in which most happens; 0 when there is no choice."""
    if len(alive) <= window:
        return 0
    sums = np.convolve(alive, np.ones(window), "valid")
    return int(np.argmax(sums))
