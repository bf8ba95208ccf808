"""Loudness and true peak: ITU-R BS.1770-4, with the windows of EBU Tech 3341 and the range of Tech 3342.

Sound is float (channels, samples), full scale 1.0, at 48 kHz: the recommendation tables its filters
for that rate only. Silence is -inf. A mono array is one channel of weight 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly, sosfilt

from mltassist.frames import Span, joined

RATE_HZ = 48000

# BS.1770-4 Annex 1 tables 1 (head shelf) and 2 (high pass), as second-order sections b0 b1 b2 1 a1 a2.
K_WEIGHTING = np.array(
    [
        [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585],
        [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621],
    ]
)
# BS.1770-4 Annex 1 table 3, by channel count: L R C (LFE) Ls Rs; four are L R Ls Rs.
_WEIGHTS: dict[int, tuple[float, ...]] = {
    1: (1.0,),
    2: (1.0, 1.0),
    3: (1.0, 1.0, 1.0),
    4: (1.0, 1.0, 1.41, 1.41),
    5: (1.0, 1.0, 1.0, 1.41, 1.41),
    6: (1.0, 1.0, 1.0, 0.0, 1.41, 1.41),
}
_ABSOLUTE_GATE_LUFS = -70.0
_MOMENTARY_S = Fraction(2, 5)
_SHORT_TERM_S = Fraction(3)


def energy_lufs(mean_square: float) -> float:
    """Loudness of a weighted sum of channel mean squares: -0.691 + 10 log10 (Annex 1)."""
    return float(_lufs(np.array(mean_square)))


def k_weighted_power(
    sound: NDArray[np.floating], rate_hz: int, weights: Sequence[float] | None = None
) -> NDArray[np.float64]:
    """Power of each K-weighted sample summed over the channels by their weights: float64 (samples,).

    Raises ValueError for a rate other than 48000 Hz, or channels that have no standard weights when
    none are given.
    """
    if rate_hz != RATE_HZ:
        raise ValueError(f"loudness is measured at {RATE_HZ} Hz, not {rate_hz}; read the sound at that rate")
    channels = sound.shape[0]
    if weights is None:
        if channels not in _WEIGHTS:
            raise ValueError(f"{channels} channels have no standard weights; fold to stereo or give weights")
        weights = _WEIGHTS[channels]
    power = np.zeros(sound.shape[1])
    for channel, weight in zip(sound, weights, strict=True):
        if weight:
            power += weight * np.square(sosfilt(K_WEIGHTING, channel.astype(np.float64)))
    return power


def window_energies(
    power: NDArray[np.float64], rate_hz: int, window_s: Fraction, hop_s: Fraction | float
) -> NDArray[np.float64]:
    """Mean of `power` over each whole window; window k starts at k * `hop_s`. Shape (windows,)."""
    window, hop = round(window_s * rate_hz), max(1, round(hop_s * rate_hz))
    if power.size < window:
        return np.zeros(0)
    starts = np.arange(0, power.size - window + 1, hop)
    total = np.concatenate(([0.0], np.cumsum(power)))
    # A difference of running sums may fall a rounding below zero in silence.
    return np.asarray(np.maximum(total[starts + window] - total[starts], 0.0) / window, np.float64)


def block_energies(
    sound: NDArray[np.floating],
    rate_hz: int,
    *,
    hop_s: Fraction | float = Fraction(1, 100),
    weights: Sequence[float] | None = None,
) -> NDArray[np.float64]:
    """K-weighted energy of successive blocks of `hop_s` seconds; a last part block is left out."""
    block = Fraction(round(hop_s * rate_hz), rate_hz)
    return window_energies(k_weighted_power(sound, rate_hz, weights), rate_hz, block, block)


def momentary_lufs(
    sound: NDArray[np.floating], rate_hz: int, hop_s: Fraction | float = Fraction(1, 10)
) -> NDArray[np.float64]:
    """Loudness of each 400 ms window, one every `hop_s` seconds (Tech 3341, ungated)."""
    return _lufs(window_energies(k_weighted_power(sound, rate_hz), rate_hz, _MOMENTARY_S, hop_s))


def short_term_lufs(
    sound: NDArray[np.floating], rate_hz: int, hop_s: Fraction | float = Fraction(1, 10)
) -> NDArray[np.float64]:
    """Loudness of each 3 s window, one every `hop_s` seconds (Tech 3341, ungated)."""
    return _lufs(window_energies(k_weighted_power(sound, rate_hz), rate_hz, _SHORT_TERM_S, hop_s))


def integrated_lufs(
    sound: NDArray[np.floating], rate_hz: int, weights: Sequence[float] | None = None
) -> float:
    """Gated programme loudness (Annex 1): 400 ms blocks every 100 ms, gates -70 LUFS and -10 LU.

    -inf when no block passes, so also for anything shorter than 400 ms.
    """
    power = k_weighted_power(sound, rate_hz, weights)
    return gated_lufs(window_energies(power, rate_hz, _MOMENTARY_S, Fraction(1, 10)))


def gated_lufs(energies: NDArray[np.float64]) -> float:
    """Programme loudness from the energies of 400 ms blocks, one every 100 ms."""
    kept = _gated(energies, -10.0)
    return energy_lufs(float(kept.mean())) if kept.size else float("-inf")


def loudness_range_lu(sound: NDArray[np.floating], rate_hz: int) -> float:
    """Loudness range (Tech 3342): 10th to 95th percentile of short-term loudness, gates -70 LUFS, -20 LU.

    0 when nothing passes the gates. Not telling for sound under a minute.
    """
    power = k_weighted_power(sound, rate_hz)
    return range_lu(window_energies(power, rate_hz, _SHORT_TERM_S, Fraction(1, 10)))


def range_lu(energies: NDArray[np.float64]) -> float:
    """Loudness range from the energies of 3 s blocks, one every 100 ms."""
    kept = _gated(energies, -20.0)
    if not kept.size:
        return 0.0
    low, high = np.percentile(_lufs(kept), (10, 95))
    return float(high - low)


def active_lufs(sound: NDArray[np.floating], rate_hz: int, active: Iterable[Span]) -> float:
    """Ungated loudness over the samples of `active` only; -inf when they hold nothing.

    The whole sound is filtered first, so that cutting it into spans adds no edges.
    """
    power = k_weighted_power(sound, rate_hz)
    inside = Span(0, power.size)
    parts = [span.shared(inside) for span in joined(active)]
    parts = [part for part in parts if part.length > 0]
    if not parts:
        return float("-inf")
    total = sum(float(power[part.start : part.end].sum()) for part in parts)
    return energy_lufs(total / sum(part.length for part in parts))


def true_peak_dbtp(sound: NDArray[np.floating], rate_hz: int) -> float:
    """Highest level between the samples, by 4x oversampling (BS.1770-4 Annex 2); any rate from 44.1 kHz.

    Raises ValueError below that, where four times is not enough.
    """
    if rate_hz < 44100:
        raise ValueError(f"a true peak at {rate_hz} Hz would read low; read the sound at {RATE_HZ} Hz")
    peak, block, margin = 0.0, 1 << 18, 32
    for start in range(0, sound.shape[1], block):
        before = min(start, margin)
        part = sound[:, start - before : start + block + margin]
        inner = resample_poly(part, 4, 1, axis=1)[:, 4 * before : 4 * (before + block)]
        peak = max(peak, float(np.abs(inner).max(initial=0.0)))
    return 20 * float(np.log10(peak)) if peak > 0 else float("-inf")


def _gated(energies: NDArray[np.float64], relative_lu: float) -> NDArray[np.float64]:
    loud = energies[_lufs(energies) > _ABSOLUTE_GATE_LUFS]
    if not loud.size:
        return loud
    return loud[_lufs(loud) > energy_lufs(float(loud.mean())) + relative_lu]


def _lufs(energies: NDArray[np.float64]) -> NDArray[np.float64]:
    with np.errstate(divide="ignore"):
        return -0.691 + 10 * np.log10(energies)
