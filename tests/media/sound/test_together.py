"""The same sound in two files is found, at its place, and no other."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import butter, correlate, sosfilt

from mltassist.media.sound.together import CURVE_HZ, best_match, loudness_curve
from mltassist.rushes.gathering import SAME_AHEAD, SAME_LIKENESS
from tests.samples import LIBRIVOX, debian_folder

HZ = 16000


@pytest.fixture(scope="module")
def reading() -> np.ndarray:
    folder = debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox"
    return np.concatenate([soundfile.read(path, dtype="float32")[0] for path in sorted(folder.glob("*.wav"))])


def curve(folder: Path, name: str, sound: np.ndarray) -> np.ndarray:
    path = folder / f"{name}.wav"
    soundfile.write(path, sound, HZ, subtype="PCM_16")
    return loudness_curve(path, Fraction(sound.size, HZ))


def far_off(sound: np.ndarray) -> np.ndarray:
    """As a small microphone across a room hears it: dull, with an echo, quiet, and with noise."""
    random = np.random.default_rng(4)
    dull = sosfilt(butter(2, 2500, fs=HZ, output="sos"), sound)
    echo = np.concatenate([np.zeros(HZ // 20), dull])[: sound.size]
    return (0.15 * (dull + 0.6 * echo) + 2e-3 * random.standard_normal(sound.size)).astype(np.float32)


@pytest.mark.parametrize("late_s", [0.0, 2.5, 7.02])
def test_a_recorder_that_was_started_earlier_is_found_with_its_place(tmp_path, reading, late_s) -> None:
    recorded = np.concatenate([np.zeros(int(late_s * HZ), np.float32), reading, np.zeros(HZ, np.float32)])
    found = best_match(curve(tmp_path, "camera", far_off(reading)), curve(tmp_path, "recorder", recorded))
    assert found.offset_s == pytest.approx(late_s, abs=1.5 / CURVE_HZ)
    assert found.likeness > SAME_LIKENESS
    assert found.ahead > SAME_AHEAD


def test_a_recorder_that_was_started_later_is_found(tmp_path, reading) -> None:
    found = best_match(
        curve(tmp_path, "camera", far_off(reading)), curve(tmp_path, "recorder", reading[3 * HZ :])
    )
    assert found.offset_s == pytest.approx(-3, abs=1.5 / CURVE_HZ)
    assert found.likeness > SAME_LIKENESS


def test_other_words_of_the_same_voice_do_not_match(tmp_path, reading) -> None:
    half = reading.size // 2
    found = best_match(
        curve(tmp_path, "one", reading[:half]), curve(tmp_path, "other", far_off(reading[half:]))
    )
    assert found.likeness < SAME_LIKENESS or found.ahead < SAME_AHEAD


def test_the_likeness_is_the_correlation_that_a_general_library_gives() -> None:
    random = np.random.default_rng(7)
    other = random.uniform(-60, -20, 2000).astype(np.float32)
    sought = other[500:1500]
    found = best_match(sought, other)
    assert found.offset_s == pytest.approx(500 / CURVE_HZ)
    assert found.likeness > 0.95
    middle = sought[200:800]
    plain = correlate(other - other.mean(), middle - middle.mean(), "valid")
    assert int(np.argmax(plain)) - 200 == round(found.offset_s * CURVE_HZ)


def test_what_is_too_short_matches_nothing() -> None:
    assert best_match(np.zeros(20, np.float32), np.zeros(2000, np.float32)).likeness == 0
    assert best_match(np.zeros(0, np.float32), np.zeros(0, np.float32)).likeness == 0
