"""One voice or several, told from sound alone."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.fft import dct
from scipy.signal import resample_poly
from scipy.stats import multivariate_normal

from mltassist.media.sound.kind import bands_spoken
from mltassist.media.sound.speech import HOP, RATE_HZ, default_detector
from mltassist.media.sound.voices import CEPSTRA, STRETCH, second_voice, voice_stretches
from tests.rushes.labelled import heard


def spoken(name: str, seconds: int = 30) -> np.ndarray:
    """The beginning of an open recording of a voice, at 16 kHz."""
    return resample_poly(heard.voice(name)[: seconds * heard.HZ], 1, 3).astype(np.float32)


def told(sound: np.ndarray) -> float:
    sound = sound[: len(sound) // HOP * HOP]
    return second_voice(voice_stretches(*bands_spoken(sound, default_detector().probability(sound))))


def test_two_who_speak_in_turn_are_told_from_one() -> None:
    reader, other = spoken("reader", 20), spoken("prompts", 20)
    turn = 4 * RATE_HZ
    turns = np.concatenate([v[at : at + turn] for at in range(0, 5 * turn, turn) for v in (reader, other)])
    assert told(turns) > 0.8
    assert told(spoken("reader")) < 0.4
    assert told(spoken("tale")) < 0.4


def test_the_gain_is_that_of_the_criterion() -> None:
    """Against scipy's multivariate normal, each with its own mean and covariance, and 90 parameters."""
    rng = np.random.default_rng(4)
    bands = np.exp(rng.standard_normal((20, 2 * STRETCH)))
    bands[:10, STRETCH:] *= 4
    found = voice_stretches(bands, np.ones(2 * STRETCH, bool))
    assert len(found) == 2
    frames = dct(np.log(bands + 1e-10), axis=0, norm="ortho")[1 : CEPSTRA + 1].T

    def likelihood(part: np.ndarray) -> float:
        covariance = np.cov(part.T, bias=True) + 0.05 * np.eye(CEPSTRA)
        # The mean of the quadratic form is left out of the criterion: it is the same on both sides.
        normal = multivariate_normal(np.zeros(CEPSTRA), covariance)
        return len(part) * float(normal.logpdf(np.zeros(CEPSTRA)))

    gain = likelihood(frames[:STRETCH]) + likelihood(frames[STRETCH:]) - likelihood(frames)
    penalty = 0.5 * (CEPSTRA + CEPSTRA * (CEPSTRA + 1) / 2) * np.log(2 * STRETCH)
    assert second_voice(found) == pytest.approx((gain - penalty) / (2 * STRETCH))


def test_too_little_speech_is_one_voice() -> None:
    bands = np.ones((20, STRETCH))
    assert second_voice(voice_stretches(bands, np.ones(STRETCH, bool))) == 0
    assert second_voice(voice_stretches(bands, np.zeros(STRETCH, bool))) == 0
