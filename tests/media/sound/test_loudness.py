"""Loudness against the recommendation's figures, the EBU signals and an outside meter."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pyloudnorm
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter, sosfreqz

from mltassist.frames import Span
from mltassist.media.sound.loudness import (
    K_WEIGHTING,
    active_lufs,
    block_energies,
    energy_lufs,
    integrated_lufs,
    loudness_range_lu,
    momentary_lufs,
    short_term_lufs,
    true_peak_dbtp,
)

RATE_HZ = 48000
Steps = list[tuple[float, float]]


def tone(steps: Steps, channels: int = 2, hz: float = 1000) -> NDArray[np.float64]:
    """Sine on one unbroken carrier; each step is (peak in dBFS, seconds). -inf is silence."""
    gain = np.concatenate([np.full(round(s * RATE_HZ), 10 ** (db / 20)) for db, s in steps])
    wave = gain * np.sin(2 * np.pi * hz * np.arange(gain.size) / RATE_HZ)
    return np.tile(wave, (channels, 1))


@pytest.mark.parametrize(
    ("hz", "gain_db"),
    [(25, -10.393), (100, -1.133), (500, 0.042), (997, 0.691), (2000, 3.071), (4000, 3.968), (10000, 4.042)],
)
def test_the_k_weighting_has_the_response_of_bs_1770(hz: float, gain_db: float) -> None:
    _, response = sosfreqz(K_WEIGHTING, [hz], fs=RATE_HZ)
    assert 20 * np.log10(abs(response[0])) == pytest.approx(gain_db, abs=0.002)


def test_a_full_scale_997_hz_sine_in_one_channel_reads_minus_3_01() -> None:
    # The calibration figure of BS.1770 Annex 1.
    assert integrated_lufs(tone([(0, 10)], 1, 997), RATE_HZ) == pytest.approx(-3.01, abs=0.02)


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
    assert integrated_lufs(tone(steps), RATE_HZ) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize("level", [-23, -33])
def test_ebu_3341_steady_tones_read_the_same_in_all_windows(level: float) -> None:
    sound = tone([(level, 20)])
    for reading in (momentary_lufs(sound, RATE_HZ), short_term_lufs(sound, RATE_HZ)):
        assert reading[10:] == pytest.approx(level, abs=0.1)


@pytest.mark.parametrize("with_lfe", [False, True], ids=["5.0", "5.1"])
def test_ebu_3341_signal_6_weighs_the_surrounds_and_leaves_the_lfe_out(with_lfe: bool) -> None:
    levels = [-28, -28, -24, *([0] if with_lfe else []), -30, -30]
    sound = np.concatenate([tone([(level, 20)], 1) for level in levels])
    assert integrated_lufs(sound, RATE_HZ) == pytest.approx(-23, abs=0.1)


def test_ebu_3341_signal_9_short_term_is_steady() -> None:
    reading = short_term_lufs(tone([(-20, 1.34), (-30, 1.66)] * 5), RATE_HZ)
    assert reading == pytest.approx(-23, abs=0.1)


def test_ebu_3341_signal_12_momentary_is_steady() -> None:
    reading = momentary_lufs(tone([(-20, 0.18), (-30, 0.22)] * 25), RATE_HZ)
    assert reading[6:] == pytest.approx(-23, abs=0.1)


@pytest.mark.parametrize("i", range(0, 20, 3))
def test_ebu_3341_signal_10_and_13_reach_the_level_wherever_the_tone_starts(i: int) -> None:
    silence = float("-inf")
    long = tone([(silence, i * 0.15), (-23, 3), (silence, 1)])
    assert short_term_lufs(long, RATE_HZ).max() == pytest.approx(-23, abs=0.1)
    short = tone([(silence, i * 0.02), (-23, 0.4), (silence, 1)])
    assert momentary_lufs(short, RATE_HZ, 0.01).max() == pytest.approx(-23, abs=0.1)


def test_ebu_3341_signals_11_and_14_follow_each_tone_as_it_comes() -> None:
    # The live versions: twenty tones from -38 to -19 dBFS, each alone between silences. 7 and 8 are
    # programmes of others that may not be passed on.
    silence, levels = float("-inf"), range(-38, -18)
    long = tone([step for level in levels for step in ((level, 3.0), (silence, 3.0))])
    for number, level in enumerate(levels):
        reading = short_term_lufs(long[:, number * 288000 : (number + 1) * 288000], RATE_HZ)
        assert reading.max() == pytest.approx(level, abs=0.1)
    short = tone([step for level in levels for step in ((level, 0.4), (silence, 0.4))])
    for number, level in enumerate(levels):
        reading = momentary_lufs(short[:, number * 38400 : (number + 1) * 38400], RATE_HZ, 0.01)
        assert reading.max() == pytest.approx(level, abs=0.1)


@pytest.mark.parametrize("offset", range(4), ids=["20", "21", "22", "23"])
def test_ebu_3341_a_peak_between_the_samples_is_found_wherever_they_fall(offset: int) -> None:
    # The exact recipe of these signals was not at hand. In their place: a peak of 0 dBFS made at four
    # times the rate, band-limited to a quarter of the lower one, with every fourth sample kept.
    n = np.arange(-2048, 2049)
    wave = np.sinc(n / 8) * np.kaiser(n.size, 8)
    kept = np.tile(wave[offset::4], (2, 1))
    assert 20 * np.log10(np.abs(kept).max()) <= 0.0
    assert -0.4 <= true_peak_dbtp(kept, RATE_HZ) <= 0.2


@pytest.mark.parametrize(
    ("divisor", "amplitude", "degrees", "expected"),
    [(4, 0.5, 0, -6), (4, 0.5, 45, -6), (6, 0.5, 60, -6), (8, 0.5, 67.5, -6), (4, 1.41, 45, 3)],
    ids=["15", "16", "17", "18", "19"],
)
def test_ebu_3341_true_peak_signals(divisor: int, amplitude: float, degrees: float, expected: float) -> None:
    n = np.arange(RATE_HZ)
    ramp = np.clip(np.minimum(n, n[::-1]) / (0.1 * RATE_HZ), 0, 1)
    wave = amplitude * ramp * np.sin(2 * np.pi * n / divisor + np.radians(degrees))
    assert expected - 0.4 <= true_peak_dbtp(np.tile(wave, (2, 1)), RATE_HZ) <= expected + 0.2


def test_a_true_peak_is_found_across_the_inner_block_edge() -> None:
    # A tone at fs/4, 45 degrees: every sample at -3 dB, every second gap at full scale.
    n = np.arange(40) - 20
    sound = np.zeros((1, (1 << 18) + 1000), np.float32)
    at = 1 << 18
    sound[0, at - 20 : at + 20] = np.sin(np.pi * n / 2 + np.pi / 4) * np.hanning(40)
    alone = true_peak_dbtp(sound[:, at - 500 : at + 500], RATE_HZ)
    assert true_peak_dbtp(sound, RATE_HZ) == pytest.approx(alone, abs=0.001)
    assert alone > 20 * np.log10(np.abs(sound).max()) + 2


@pytest.mark.parametrize(
    ("levels", "expected"),
    [([-20, -30], 10), ([-20, -15], 5), ([-40, -20], 20), ([-50, -35, -20, -35, -50], 15)],
)
def test_ebu_3342_loudness_ranges(levels: list[float], expected: float) -> None:
    sound = tone([(level, 20) for level in levels])
    assert loudness_range_lu(sound, RATE_HZ) == pytest.approx(expected, abs=1)


@pytest.mark.parametrize("channels", [1, 2, 5])
def test_noise_that_swells_like_speech_agrees_with_pyloudnorm(channels: int) -> None:
    rng = np.random.default_rng(channels)
    n = 12 * RATE_HZ
    sound = lfilter([1], [1, -0.9], rng.standard_normal((channels, n)))
    syllables = np.interp(np.arange(n), np.arange(0, n, 6000), rng.uniform(0, 1, n // 6000) ** 3)
    sound *= 0.05 * syllables
    meter = pyloudnorm.Meter(RATE_HZ)
    assert integrated_lufs(sound, RATE_HZ) == pytest.approx(meter.integrated_loudness(sound.T), abs=0.1)


def test_silence_and_sound_too_short_for_a_block_are_minus_infinity() -> None:
    nothing = np.zeros((2, RATE_HZ), np.float32)
    assert integrated_lufs(nothing, RATE_HZ) == float("-inf")
    assert integrated_lufs(tone([(-20, 0.3)]), RATE_HZ) == float("-inf")
    assert np.all(momentary_lufs(nothing, RATE_HZ) == float("-inf"))
    assert short_term_lufs(nothing, RATE_HZ).size == 0
    assert true_peak_dbtp(nothing, RATE_HZ) == float("-inf")
    assert loudness_range_lu(nothing, RATE_HZ) == 0
    assert active_lufs(nothing, RATE_HZ, [Span(0, 1000)]) == float("-inf")


def test_loudness_over_active_spans_ignores_the_pauses_and_joins_overlaps() -> None:
    sound = tone([(-23, 5), (float("-inf"), 20), (-23, 5)])
    spans = [Span(4800, 240000), Span(200000, 240000), Span(25 * RATE_HZ + 4800, 99 * RATE_HZ)]
    assert active_lufs(sound, RATE_HZ, spans) == pytest.approx(-23, abs=0.05)
    assert active_lufs(sound, RATE_HZ, [Span(0, 30 * RATE_HZ)]) == pytest.approx(-27.77, abs=0.05)
    assert active_lufs(sound, RATE_HZ, [Span(-5, 0), Span(99 * RATE_HZ, 100 * RATE_HZ)]) == float("-inf")


def test_block_energies_follow_the_hop_and_give_the_level_back() -> None:
    blocks = block_energies(tone([(-23, 2)]), RATE_HZ, hop_s=Fraction(1, 100))
    assert blocks.shape == (200,)
    assert energy_lufs(float(blocks[50:].mean())) == pytest.approx(-23, abs=0.05)


def test_weights_may_be_given_and_odd_layouts_must_have_them() -> None:
    sound = tone([(-23, 2)], 7)
    assert integrated_lufs(sound, RATE_HZ, [1, 1, 0, 0, 0, 0, 0]) == pytest.approx(-23, abs=0.1)
    with pytest.raises(ValueError, match="weights"):
        integrated_lufs(sound, RATE_HZ)


def test_other_rates_are_refused() -> None:
    with pytest.raises(ValueError, match="48000"):
        integrated_lufs(np.zeros((1, 44100), np.float32), 44100)
    with pytest.raises(ValueError, match="16000"):
        true_peak_dbtp(np.zeros((1, 16000), np.float32), 16000)
