"""The meter reads a sound in parts as it reads it whole; its figures are checked in test_loudness."""

from __future__ import annotations

from math import inf, isnan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.media.sound.meter import Meter
from tests.media.sound.mixes import oversampled_dbtp

RATE_HZ = 48000


def swelling(seconds: float, seed: int = 3) -> np.ndarray:
    rng = np.random.default_rng(seed)
    count = int(seconds * RATE_HZ)
    swell = 10 ** (rng.uniform(-40, -3, int(seconds) + 2) / 20)
    gain = np.interp(np.arange(count) / RATE_HZ, np.arange(swell.size), swell)
    return (gain * rng.uniform(-1, 1, (2, count))).astype(np.float32)


def read(sound: np.ndarray, cuts: list[int]) -> Meter:
    meter = Meter(peaks=True)
    for start, end in zip([0, *cuts], [*cuts, sound.shape[1]], strict=True):
        meter.add(sound[:, start:end])
    return meter


@settings(max_examples=15, deadline=None)
@given(cuts=st.lists(st.integers(0, 20 * RATE_HZ), max_size=6).map(sorted))
def test_parts_read_as_the_whole_does(cuts):
    sound = swelling(20)
    found, whole = read(sound, cuts).read(), read(sound, []).read()
    assert found.integrated_lufs == pytest.approx(whole.integrated_lufs, abs=1e-6)
    assert found.range_lu == pytest.approx(whole.range_lu, abs=1e-6)
    assert found.peak_dbtp == pytest.approx(oversampled_dbtp(sound), abs=1e-3)


def test_a_peak_on_the_edge_of_two_parts_is_found():
    n = np.arange(4000) - 2000
    wave = (np.sin(np.pi * n / 2 + np.pi / 4) * np.hanning(n.size)).astype(np.float32)
    sound = np.tile(wave, (2, 1))
    for cut in range(1990, 2010):
        assert read(sound, [cut]).read().peak_dbtp == pytest.approx(oversampled_dbtp(sound), abs=1e-3)


def test_reading_twice_changes_nothing():
    meter = read(swelling(5), [48001])
    assert meter.read() == meter.read()


def test_nothing_and_silence_are_minus_infinity():
    empty, silent = Meter().read(), Meter(peaks=True)
    silent.add(np.zeros((2, RATE_HZ), np.float32))
    assert (empty.integrated_lufs, empty.range_lu, Meter().mean_lufs) == (-inf, 0.0, -inf)
    assert isnan(empty.peak_dbtp)
    assert silent.read().peak_dbtp == -inf
