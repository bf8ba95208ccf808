"""Measures of what kind of sound is heard, against signals whose values are known, and on real recordings."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray

from mltassist.media.sound import hints
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.hints import HINT_WINDOW, MOST_FILES, sound_hints, window_starts
from mltassist.media.sound.kind import (
    Kind,
    flatness,
    flux,
    kind_chances,
    modulation,
    pulse,
    quiet_frames,
    spectrogram,
    tonality,
    traits,
)
from mltassist.media.sound.speech import RATE_HZ, default_detector
from tests.cli.films import EXAMPLE
from tests.samples import CONVERSATION, LIBRIVOX, debian_folder, sample

Mono = NDArray[np.float32]
T = np.arange(5 * RATE_HZ) / RATE_HZ


def noise(seed: int = 1) -> Mono:
    return (0.1 * np.random.default_rng(seed).standard_normal(T.size)).astype(np.float32)


def tone(hertz: float = 440.0) -> Mono:
    return (0.3 * np.sin(2 * np.pi * hertz * T)).astype(np.float32)


def clicks(at_s: NDArray[np.float64]) -> Mono:
    sound = 1e-4 * noise(2)
    for at in (at_s * RATE_HZ).astype(int):
        sound[at : at + 200] += 5 * noise(3)[: max(0, min(200, T.size - at))]
    return sound


def power(sound: Mono, frame: int = 1024, step: int = 256) -> NDArray[np.float32]:
    return spectrogram(sound, frame, step)[0]


def test_white_noise_is_as_flat_as_theory_says_and_a_tone_is_not() -> None:
    # Bins of white noise are exponential: exp(E log) / mean = exp(-Euler's constant) = 0.5615.
    hz = spectrogram(noise(), 1024, 256)[1]
    assert flatness(power(noise()), hz) == pytest.approx(np.exp(-np.euler_gamma), abs=0.01)
    assert flatness(power(tone()), hz) < 0.001


@pytest.mark.parametrize(("pace_hz", "at_least", "at_most"), [(4, 0.85, 1), (16, 0, 0.25), (0.6, 0, 0.25)])
def test_modulation_is_that_at_the_pace_of_syllables(pace_hz: float, at_least: float, at_most: float) -> None:
    swelling = (noise() * (1 + np.sin(2 * np.pi * pace_hz * T))).astype(np.float32)
    bands = power(swelling)[8:400].reshape(8, 49, -1).sum(axis=1).astype(np.float64)
    assert at_least <= modulation(bands, RATE_HZ / 256) <= at_most


def test_held_tones_are_lines_clicks_are_none_and_noise_is_half() -> None:
    chord = tone(220) + tone(330) + tone(550)
    assert tonality(power(chord, 2048, 1024)) > 0.95
    assert tonality(power(noise(), 2048, 1024)) == pytest.approx(0.5, abs=0.05)
    assert tonality(power(clicks(np.arange(0.2, 5, 0.37)), 2048, 1024)) < 0.1


def test_a_beat_comes_again_and_chance_does_not() -> None:
    random = np.random.default_rng(5)
    found = {}
    for name, at in (("beat", np.arange(0.1, 4.8, 0.5)), ("chance", np.sort(random.uniform(0, 4.8, 10)))):
        rows = power(clicks(at))[8:400].reshape(8, 49, -1).sum(axis=1)
        found[name] = pulse(rows.astype(np.float64), RATE_HZ / 256)
    assert found["beat"] > 0.8
    assert found["chance"] < 0.5


def test_quiet_frames_are_those_under_half_the_mean_of_their_second() -> None:
    # In a square wave of 1 s whose quiet part is three quarters long, three quarters are quiet.
    level = np.where(np.arange(500) % 100 < 25, 1.0, 0.01).astype(np.float32)
    assert quiet_frames(level, 100) == pytest.approx(0.75)
    assert quiet_frames(np.ones(500, np.float32), 100) == 0


def test_flux_is_none_in_a_tone_and_much_where_every_frame_is_another() -> None:
    assert flux(power(tone())) < 0.01
    steps = np.concatenate([tone(300 * (1 + n))[:1024] for n in (0, 5, 1, 6, 2, 7, 3, 8)] * 8)
    assert flux(power(steps.astype(np.float32))) > 0.8


def test_silence_is_silence() -> None:
    found = kind_chances(traits(1e-5 * noise(), np.zeros(150, np.float32)))
    assert found[Kind.SILENCE] == 1


@pytest.mark.parametrize(
    ("file", "kind"),
    [
        ("narration/narrator.m4a", Kind.SPEECH),
        ("music/creek.m4a", Kind.MUSIC),
        ("natural/wheel-splash.mp4", Kind.NOISE),
        ("natural/gulls.mp4", Kind.NOISE),
    ],
)
def test_the_example_film_sounds_as_what_it_is(file: str, kind: Kind) -> None:
    found = sound_hints(EXAMPLE / "media" / file, Fraction(10), default_detector())
    assert max(found.kinds, key=found.kinds.__getitem__) is kind


def test_a_reading_is_speech() -> None:
    folder = debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox"
    path = min(folder.glob("*-0870.wav"))
    found = sound_hints(path, Fraction(7), default_detector())
    assert found.kinds[Kind.SPEECH] > 0.9
    assert found.speech > 0.7


def test_the_part_that_is_speech_agrees_with_people() -> None:
    """Against the turns that people labelled in the conversation that comes with pyannote.audio."""
    path = sample(CONVERSATION, "pyannote/audio/sample/sample.wav")
    spoken = np.zeros(3000, bool)
    for line in sample(CONVERSATION, "pyannote/audio/sample/sample.rttm").read_text().splitlines():
        start, length = (float(field) for field in line.split()[3:5])
        spoken[int(start * 100) : int((start + length) * 100)] = True
    found = sound_hints(path, Fraction(30), default_detector())
    assert found.speech == pytest.approx(spoken.mean(), abs=0.12)


def test_windows_lie_apart_inside_the_recording() -> None:
    for total in (HINT_WINDOW // 2, HINT_WINDOW, 3 * HINT_WINDOW, 1000 * HINT_WINDOW):
        for count in (3, MOST_FILES):
            starts = window_starts(total, count)
            assert starts == sorted(set(starts))
            assert starts[0] >= 0
            assert total <= HINT_WINDOW or starts[-1] + HINT_WINDOW <= total
            assert len(starts) <= count


def test_more_is_heard_only_where_there_is_doubt(monkeypatch: pytest.MonkeyPatch, tmp_path) -> None:
    monkeypatch.setenv("MLTASSIST_CACHE", "off")
    heard: list[int] = []

    def listening(path, start, count, **more):
        heard.append(start)
        return read_sound(path, start, count, **more)

    monkeypatch.setattr(hints, "read_sound", listening)
    sound_hints(EXAMPLE / "media/music/creek.m4a", Fraction(160), default_detector())
    assert len(heard) == 3
