"""How much of speech comes through: against its table, and against a measure from a general library.

The library is `pystoi` (PyPI): short-time objective intelligibility, Taal et al., IEEE TASLP 19(7), 2011. It
hears from 150 to 4300 Hz, all bands alike, so the two are compared on what lies beneath all of speech, and in
order only.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pystoi import stoi
from scipy.signal import butter, resample_poly, sosfilt
from scipy.stats import spearmanr

from mltassist.media.sound.clarity import (
    CENTRES_HZ,
    CLARITY_WINDOW,
    IMPORTANCE,
    Bands,
    SpokenBands,
    intelligibility,
)
from mltassist.media.sound.decode import as_stereo, read_sound
from mltassist.media.sound.meter import Meter
from tests.cli.films import EXAMPLE

BESIDE = {250: 0.0617, 500: 0.1671, 1000: 0.2373, 2000: 0.2648, 4000: 0.2142, 8000: 0.0549}
"""ANSI S3.5-1997, the octave band table (from memory). Its 250 Hz band stands for the four lowest here."""


def read(sound: np.ndarray, part: int = 48000) -> Bands:
    bands = Bands()
    for at in range(0, sound.shape[1], part):
        bands.add(sound[:, at : at + part].astype(np.float32))
    return bands


def test_thirds_weigh_as_much_as_their_octaves() -> None:
    assert IMPORTANCE.sum() == pytest.approx(1)
    for centre, weight in BESIDE.items():
        inside = (centre / 2**0.6 < CENTRES_HZ) & (centre * 2**0.6 > CENTRES_HZ)
        if centre == 250:
            inside |= centre / 2**0.6 > CENTRES_HZ
        assert IMPORTANCE[inside].sum() == pytest.approx(weight, abs=1e-9), centre


@pytest.mark.parametrize(
    ("over_db", "index"), [(20, 1.0), (15, 1.0), (0, 0.5), (-9, 0.2), (-15, 0), (-30, 0)]
)
def test_what_lies_beneath_covers_speech_by_degrees(over_db: float, index: float) -> None:
    speech = np.ones((50, 18), np.float32)
    beneath = speech * np.float32(10 ** (-over_db / 10))
    assert intelligibility(SpokenBands.of(speech), beneath) == pytest.approx(index, abs=1e-4)


def test_a_tone_takes_what_its_band_is_worth_wherever_the_parts_meet() -> None:
    rng = np.random.default_rng(3)
    speech = rng.standard_normal((2, 96000)) * 0.05
    tone = np.tile(np.sin(2 * np.pi * 2000 * np.arange(96000) / 48000), (2, 1)) * 0.7
    spoken = SpokenBands.of(read(speech).powers)
    covered = intelligibility(spoken, read(tone).powers)
    assert covered == pytest.approx(1 - IMPORTANCE[CENTRES_HZ == 2000].item(), abs=0.03)
    for part in (1000, 1920, 77777):
        assert np.allclose(read(tone, part).powers, read(tone).powers, rtol=1e-4)


def test_rests_and_silence_count_for_nothing() -> None:
    speech = np.ones((100, 18), np.float32)
    speech[50:] = 1e-6
    spoken = SpokenBands.of(speech)
    noise = np.zeros_like(speech)
    noise[50:] = 100
    assert intelligibility(spoken, noise) == 1
    assert np.isnan(intelligibility(SpokenBands.of(np.zeros((9, 18), np.float32)), noise[:9]))


def lufs(sound: np.ndarray) -> float:
    meter = Meter()
    meter.add(sound.astype(np.float32))
    return meter.read().integrated_lufs


def beds(count: int) -> dict[str, np.ndarray]:
    """What may lie beneath all of speech: music, wind, steady noise, and noise that swells."""
    rng = np.random.default_rng(7)
    white = rng.standard_normal((1, count))
    n = np.arange(count)
    return {
        "music": read_sound(EXAMPLE / "media/music/creek.m4a", 48000, count, rate_hz=48000),
        "wind": read_sound(EXAMPLE / "media/natural/wind-in-reeds.mp4", 24000, count, rate_hz=48000),
        "falling": sosfilt(butter(1, 500, fs=48000, output="sos"), white),
        "steady": white,
        "swells": white * (0.1 + np.sin(2 * np.pi * 2 * n / 48000) ** 2),
    }


def test_the_index_agrees_with_another_measure_on_what_covers_words_more() -> None:
    voice = as_stereo(read_sound(Path(EXAMPLE / "media/narration/narrator.m4a"), 0, 8 * 48000, rate_hz=48000))
    spoken = SpokenBands.of(read(voice).powers)
    ours, theirs = [], []
    clean = resample_poly(voice[0], 10000, 48000)
    for bed in beds(voice.shape[1]).values():
        found = []
        for separation in (-15, -10, -5, 0, 5, 10, 15, 20):
            under = as_stereo(bed.astype(np.float32))
            under = under * 10 ** ((lufs(voice) - separation - lufs(under)) / 20)
            found.append(intelligibility(spoken, read(under).powers))
            mixed = resample_poly(voice[0] + under[0], 10000, 48000)
            theirs.append(float(stoi(clean, mixed, 10000)))
        assert found == sorted(found)
        ours += found
    assert spearmanr(ours, theirs).statistic > 0.9


def test_a_mono_recording_counts_on_both_sides() -> None:
    sound = np.random.default_rng(3).normal(0, 0.1, (1, 4 * CLARITY_WINDOW)).astype(np.float32)
    both, left = Bands(), Bands()
    both.add(np.repeat(sound, 2, axis=0))
    left.add(np.concatenate((sound, np.zeros_like(sound))))
    assert both.powers == pytest.approx(2 * left.powers, rel=1e-5)
