"""Loudness against the recommendation's figures, the EBU signals and an outside meter."""

from __future__ import annotations

from math import inf

import numpy as np
import pyloudnorm
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter, sosfreqz

from mltassist.media.sound.decode import MIX_HZ as RATE_HZ
from mltassist.media.sound.loudness import K_WEIGHTING
from mltassist.media.sound.meter import Loudness, Meter

Steps = list[tuple[float, float]]


def tone(steps: Steps, channels: int = 2, hz: float = 1000) -> NDArray[np.float64]:
    """Sine on one unbroken carrier; each step is (peak in dBFS, seconds). -inf is silence."""
    gain = np.concatenate([np.full(round(s * RATE_HZ), 10 ** (db / 20)) for db, s in steps])
    wave = gain * np.sin(2 * np.pi * hz * np.arange(gain.size) / RATE_HZ)
    return np.tile(wave, (channels, 1))


def read(sound: NDArray[np.floating]) -> Loudness:
    """What the meter reads of (channels, samples); one channel is the left one alone."""
    meter = Meter(peaks=True)
    both = sound if len(sound) == 2 else np.concatenate((sound, np.zeros_like(sound)))
    meter.add(both.astype(np.float32))
    return meter.read()


@pytest.mark.parametrize(
    ("hz", "gain_db"),
    [(25, -10.393), (100, -1.133), (500, 0.042), (997, 0.691), (2000, 3.071), (4000, 3.968), (10000, 4.042)],
)
def test_the_k_weighting_has_the_response_of_bs_1770(hz: float, gain_db: float) -> None:
    _, response = sosfreqz(K_WEIGHTING, [hz], fs=RATE_HZ)
    assert 20 * np.log10(abs(response[0])) == pytest.approx(gain_db, abs=0.002)


def test_a_full_scale_997_hz_sine_in_one_channel_reads_minus_3_01() -> None:
    # The calibration figure of BS.1770 Annex 1.
    assert read(tone([(0, 10)], 1, 997)).integrated_lufs == pytest.approx(-3.01, abs=0.02)


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        ([(-23, 20)], -23),
        ([(-33, 20)], -33),
        ([(-36, 10), (-23, 60), (-36, 10)], -23),
        ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23),
        ([(-26, 20), (-20, 20.1), (-26, 20)], -23),
    ],
    ids=["1", "2", "3", "4", "5"],
)
def test_ebu_3341_integrated_signals(steps: Steps, expected: float) -> None:
    assert read(tone(steps)).integrated_lufs == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize("offset", range(4), ids=["20", "21", "22", "23"])
def test_ebu_3341_a_peak_between_the_samples_is_found_wherever_they_fall(offset: int) -> None:
    # The exact recipe of these signals was not at hand. In their place: a peak of 0 dBFS made at four
    # times the rate, band-limited to a quarter of the lower one, with every fourth sample kept.
    n = np.arange(-2048, 2049)
    wave = np.sinc(n / 8) * np.kaiser(n.size, 8)
    kept = np.tile(wave[offset::4], (2, 1))
    assert 20 * np.log10(np.abs(kept).max()) <= 0.0
    assert -0.4 <= read(kept).peak_dbtp <= 0.2


@pytest.mark.parametrize(
    ("divisor", "amplitude", "degrees", "expected"),
    [(4, 0.5, 0, -6), (4, 0.5, 45, -6), (6, 0.5, 60, -6), (8, 0.5, 67.5, -6), (4, 1.41, 45, 3)],
    ids=["15", "16", "17", "18", "19"],
)
def test_ebu_3341_true_peak_signals(divisor: int, amplitude: float, degrees: float, expected: float) -> None:
    n = np.arange(RATE_HZ)
    ramp = np.clip(np.minimum(n, n[::-1]) / (0.1 * RATE_HZ), 0, 1)
    wave = amplitude * ramp * np.sin(2 * np.pi * n / divisor + np.radians(degrees))
    assert expected - 0.4 <= read(np.tile(wave, (2, 1))).peak_dbtp <= expected + 0.2


@pytest.mark.parametrize(
    ("levels", "expected"),
    [([-20, -30], 10), ([-20, -15], 5), ([-40, -20], 20), ([-50, -35, -20, -35, -50], 15)],
)
def test_ebu_3342_loudness_ranges(levels: list[float], expected: float) -> None:
    sound = tone([(level, 20) for level in levels])
    assert read(sound).range_lu == pytest.approx(expected, abs=1)


@pytest.mark.parametrize("channels", [1, 2])
def test_noise_that_swells_like_speech_agrees_with_pyloudnorm(channels: int) -> None:
    rng = np.random.default_rng(channels)
    n = 12 * RATE_HZ
    sound = lfilter([1], [1, -0.9], rng.standard_normal((channels, n)))
    syllables = np.interp(np.arange(n), np.arange(0, n, 6000), rng.uniform(0, 1, n // 6000) ** 3)
    sound *= 0.05 * syllables
    meter = pyloudnorm.Meter(RATE_HZ)
    assert read(sound).integrated_lufs == pytest.approx(meter.integrated_loudness(sound.T), abs=0.1)


def test_silence_and_sound_too_short_for_a_block_are_minus_infinity() -> None:
    nothing = read(np.zeros((2, 4 * RATE_HZ)))
    assert (nothing.integrated_lufs, nothing.range_lu, nothing.peak_dbtp) == (-inf, 0, -inf)
    assert read(tone([(-20, 0.3)])).integrated_lufs == -inf
