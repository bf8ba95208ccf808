"""What happens in a recording and what is wrong with it, per block of 100 ms."""

from __future__ import annotations

from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import maximum_filter1d, median_filter, minimum_filter1d, uniform_filter1d

from mltassist.media.sound.decode import MIX_HZ, as_mono
from mltassist.media.sound.filters import hann, resampled
from mltassist.media.sound.speech import HOP, RATE_HZ, SpeechDetector

BLOCKS_PER_S = 10  # blocks of 100 ms
BLOCK = MIX_HZ // BLOCKS_PER_S

FULL_SCALE = 0.999
_FLAT_LEVEL, _FLAT_STEP = 0.2, 0.002

# Frames of 43 ms, one every 20 ms, five to a block.
_FRAME, _HOP = 2048, 960
_PER_BLOCK = BLOCK // _HOP
_BEFORE = (_FRAME - _HOP) // 2
_THUMP_OVER_DB = (10.0, 18.0)
_LOW_HZ, _THUMP_HZ, _MID_HZ, _TOP_HZ = 120, 200, 250, 12000
_BANDS = 16
_FLOOR = 1e-10
"""Power of a band (-100 dB) under which nothing counts: dither and codecs may do as they like."""
_BAND_STEP_DB = 3.0
"""Rise of a band that noise makes by itself."""


@dataclass(frozen=True, slots=True)
class Liveness:
    """A recording per block of 100 ms: float arrays of one shape (blocks,).

    level_db: mean power over 250 Hz, never under -100. onsets_db: the steepest rise of the spectrum in
    the block, dB over the 100 ms before, averaged over 16 bands from 250 Hz to 12 kHz. Low sound is in
    neither: it is wind and handling more often than anything that small loudspeakers would play.
    speech: chance of speech; 0 throughout where nothing could tell. clipped, wind, handling: 0 to 1.
    """

    level_db: NDArray[np.float64]
    onsets_db: NDArray[np.float64]
    speech: NDArray[np.float64]
    clipped: NDArray[np.float64]
    wind: NDArray[np.float64]
    handling: NDArray[np.float64]

    @property
    def blocks(self) -> int:
        """How many whole blocks there are."""
        return len(self.level_db)


def liveness(sound: NDArray[np.float32], detector: SpeechDetector | None = None) -> Liveness:
    """The description of sound (channels, samples) at 48 kHz; what is left after whole blocks is dropped.

    Wind and handling are told from what lies within seconds of a block, never from the whole recording,
    so that parts of a long one agree with the whole.
    """
    blocks = sound.shape[1] // BLOCK
    if blocks == 0:
        return Liveness(*(np.zeros(0) for _ in fields(Liveness)))
    power, hz = _spectra(sound, blocks)
    low = _between(power, hz, 20, _LOW_HZ)
    thump = _between(power, hz, 20, _THUMP_HZ)
    mid = _between(power, hz, _MID_HZ, _TOP_HZ)
    mid_blocks = mid.reshape(blocks, _PER_BLOCK).mean(axis=1)
    return Liveness(
        level_db=_decibel(mid_blocks),
        onsets_db=_onsets(power, hz),
        speech=np.zeros(blocks) if detector is None else _speech(sound, blocks, detector),
        clipped=_clipped(sound, blocks),
        wind=_wind(low.reshape(blocks, _PER_BLOCK).mean(axis=1), mid_blocks),
        handling=_handling(thump, mid),
    )


def _spectra(sound: NDArray[np.float32], blocks: int) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Power per frame and bin, mean of the channels, and the bins' frequencies; mean square 1 gives 1.

    Frames lie evenly in their blocks. The ends are mirrored: a recording does not begin with an event.
    """
    window = hann(_FRAME)
    scale = np.float32(2 / (_FRAME * float(np.square(window).sum())))
    total = np.zeros((blocks * _PER_BLOCK, _FRAME // 2 + 1), np.float32)
    for channel in sound:
        padded = np.pad(channel[: blocks * BLOCK], _BEFORE, mode="symmetric")
        frames = np.lib.stride_tricks.sliding_window_view(padded, _FRAME)[::_HOP]
        for start in range(0, len(frames), 512):  # a few MB at a time
            bins = fft.rfft(frames[start : start + 512] * window, axis=1)
            total[start : start + 512] += np.square(bins.real) + np.square(bins.imag)
    return total * (scale / len(sound)), fft.rfftfreq(_FRAME, 1 / MIX_HZ)


def _between(
    power: NDArray[np.float32], hz: NDArray[np.float64], low_hz: float, high_hz: float
) -> NDArray[np.float64]:
    inside = slice(*np.searchsorted(hz, (low_hz, high_hz)))
    return np.asarray(power[:, inside].sum(axis=1), np.float64)


def _decibel(power: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(10 * np.log10(np.maximum(power, _FLOOR)), np.float64)


def _onsets(power: NDArray[np.float32], hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Positive spectral flux: the rise of each band over the 100 ms before that do not overlap the frame."""
    edges = np.geomspace(_MID_HZ, _TOP_HZ, _BANDS + 1)
    bands = np.array([_between(power, hz, low, high) for low, high in pairwise(edges)])
    rise = _decibel(bands) - _decibel(_past(bands))
    flux = np.maximum(0.0, rise - _BAND_STEP_DB).mean(axis=0)
    return np.asarray(flux.reshape(-1, _PER_BLOCK).max(axis=1), np.float64)


def ramp_of(values: NDArray[np.float64], low: float, high: float) -> NDArray[np.float64]:
    """0 up to `low`, 1 from `high`, straight between."""
    return np.clip((values - low) / (high - low), 0.0, 1.0)


def _wind(low: NDArray[np.float64], mid: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rumble under 120 Hz that rules the block and comes and goes slowly, over seconds.

    A steady hum or the rumble of a town has the first and not the second: medians of its level keep within
    some 0.5 dB of one another over four seconds, those of wind spread by several dB.
    """
    low_db = _decibel(low)
    # The median of 1.5 s leaves out thumps, and doors with the boom after them, which are short.
    slow = median_filter(low_db, 15, mode="nearest")
    mean = uniform_filter1d(slow, 41, mode="nearest")
    spread = np.sqrt(np.maximum(0.0, uniform_filter1d(np.square(slow), 41, mode="nearest") - mean**2))
    rules = ramp_of(slow - median_filter(_decibel(mid), 15, mode="nearest"), 0.0, 8.0)
    audible = ramp_of(slow, -75.0, -65.0)
    # In a lull between gusts there is no wind to be heard: only the blocks over their surroundings' mean.
    return rules * audible * ramp_of(spread, 0.8, 1.8) * ramp_of(slow - mean, -6.0, -2.0)


def _handling(thump: NDArray[np.float64], mid: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sudden bursts whose sound is nearly all under 200 Hz: hands on the camera, knocks on its stand.

    What is added to the 100 ms before is weighed, so a loud place hides nothing. Doors, drums and steps
    add low sound too, but within 150 ms they add as much over 250 Hz.
    """
    before = _past(thump)
    rise = ramp_of(_decibel(thump) - _decibel(before), 6.0, 12.0)
    added = _decibel(np.maximum(0.0, thump - before))
    # Over 250 Hz an earlier event may still die away, so what lies under a whole second is the place.
    place = minimum_filter1d(uniform_filter1d(mid, 5, mode="nearest"), 51, mode="nearest")
    beside = maximum_filter1d(_decibel(np.maximum(0.0, mid - place)), 15, mode="nearest")
    found = rise * ramp_of(added - beside, *_THUMP_OVER_DB) * ramp_of(added, -65.0, -55.0)
    return np.asarray(found.reshape(-1, _PER_BLOCK).max(axis=1), np.float64)


def _past(power: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean along the last axis of the five frames before each that do not overlap it; at the start itself."""
    past = power.copy()
    past[..., 5:] = uniform_filter1d(power, 5, axis=-1, mode="nearest")[..., :-5]  # k - 7 to k - 3
    return past


def _clipped(sound: NDArray[np.float32], blocks: int) -> NDArray[np.float64]:
    """1 where a channel touches full scale, or has a flat top further down: limited, then turned down.

    A flat top is three equal samples that the sound runs into steeply; a slow wave's top is not.
    """
    level = np.abs(sound[:, : blocks * BLOCK])
    found = level >= FULL_SCALE
    flat = (level[:, 1:-2] >= _FLAT_LEVEL) & (np.diff(sound[:, : blocks * BLOCK], axis=1)[:, 1:-1] == 0)
    flat &= np.diff(level, axis=1)[:, :-2] >= _FLAT_STEP
    flat &= level[:, 3:] == level[:, 2:-1]
    found[:, 1:-2] |= flat
    return np.asarray(found.any(axis=0).reshape(blocks, BLOCK).any(axis=1), np.float64)


def _speech(sound: NDArray[np.float32], blocks: int, detector: SpeechDetector) -> NDArray[np.float64]:
    """The largest chance of speech in each block, as the mean of 160 ms: no word is shorter."""
    mono = resampled(as_mono(sound)[0], 1, MIX_HZ // RATE_HZ).astype(np.float32)
    chance = uniform_filter1d(detector.probability(mono).astype(np.float64), 5, mode="nearest")
    block = RATE_HZ // BLOCKS_PER_S
    found = np.zeros(blocks)
    for step_edge in (0, HOP - 1):
        place = (np.arange(len(chance)) * HOP + step_edge) // block
        inside = place < blocks
        np.maximum.at(found, place[inside], chance[inside])
    return found
