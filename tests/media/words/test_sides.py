"""Words on the wrong side of a pause."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from mltassist.frames import Span
from mltassist.media.transcript import read_cues
from mltassist.media.words.interface import WORDS_HZ, Fit
from mltassist.media.words.sides import with_their_phrases
from mltassist.media.words.typed import typed_in
from tests.docs.pages import ROOT
from tests.media.words import voices

HUNDREDTH = WORDS_HZ // 100
WORDS = ["mend", "it", "I", "would"]


def fit(*places: tuple[int, int, float]) -> Fit:
    """Words in hundredths of a second, each with its score."""
    spans = tuple(Span(start * HUNDREDTH, end * HUNDREDTH) for start, end, _ in places)
    return Fit(spans, tuple(score for *_, score in places), (True,) * len(places))


def speech() -> np.ndarray:
    """Two phrases of half a second, half a second apart."""
    noise = np.random.default_rng(5).normal(0, 0.001, 200 * HUNDREDTH).astype(np.float32)
    noise[20 * HUNDREDTH : 70 * HUNDREDTH] *= 100
    noise[120 * HUNDREDTH : 170 * HUNDREDTH] *= 100
    return noise


def evenly(mono: np.ndarray, words: Sequence[str]) -> Fit:
    """An aligner that shares the sound out."""
    each = mono.size // len(words)
    return Fit(tuple(Span(n * each, (n + 1) * each) for n in range(len(words))), (-9.0,) * len(words), ())


def begins(found: Fit) -> list[int]:
    return [round(span.start / HUNDREDTH) for span in found.words]


def test_a_word_that_lies_in_a_pause_is_sought_with_the_phrase_beside_it():
    left = fit((20, 40, -9), (40, 70, -9), (80, 83, -30), (120, 170, -9))
    found = with_their_phrases(left, WORDS, speech(), evenly)
    assert begins(found)[:2] == [20, 40]
    assert found.words[2].start > 110 * HUNDREDTH
    assert found.words[2].end <= found.words[3].start


def test_a_word_apart_from_its_line_is_moved_only_where_it_is_hardly_heard():
    left = fit((20, 40, -9), (40, 60, -9), (60, 67, -30), (120, 170, -9))
    assert with_their_phrases(left, WORDS, speech(), evenly) == left  # nobody tells of lines
    assert begins(with_their_phrases(left, WORDS, speech(), evenly, {0, 2}))[2] > 110
    heard = fit((20, 40, -9), (40, 60, -9), (60, 67, -9), (120, 170, -9))
    assert with_their_phrases(heard, WORDS, speech(), evenly, {0, 2}) == heard


def test_the_last_word_of_a_line_goes_back_to_it():
    left = fit((20, 70, -9), (120, 126, -30), (126, 140, -9), (140, 170, -9))
    found = with_their_phrases(left, WORDS, speech(), evenly, {0, 2})
    assert found.words[1].end < 80 * HUNDREDTH
    assert begins(found)[2:] == [126, 140]


def test_what_cannot_be_found_beside_the_pause_stays():
    left = fit((20, 40, -9), (40, 70, -9), (80, 83, -30), (120, 170, -9))
    assert with_their_phrases(left, WORDS, speech(), lambda *_: None) == left
    assert with_their_phrases(left, WORDS, np.zeros(0, np.float32), evenly) == left


def test_a_first_word_that_is_hardly_spoken_stays_in_its_line():
    """Of "mend it," and "I would say": the voice hardly says the I; it was found before the pause."""
    recording = ROOT / "example_projects" / "media" / "interview" / "ines-2.mp4"
    cues, language = read_cues(recording.with_suffix(".srt"))
    lines = typed_in(recording, cues[3:5], language, voices.real_ears().aligner)
    assert [line.aligned for line in lines] == [True, True]
    assert lines[1].words[0].text == "I"
    assert lines[1].words[0].at_ms == pytest.approx(cues[4].at_ms, abs=100)
