"""Clicks of every shape where two stretches of noise meet, and what is known of a speaker of few phrases."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm, t

from mltassist.joins.measures import PHRASES, PHRASES_DB, phrases_sd_db
from mltassist.joins.seams import NO_SEAM, seam, seam_db
from mltassist.joins.speaker import ALIKE_VOICES, CEPSTRA, UNKNOWN, Speaker, likeness, varied
from tests.joins.truth import CLICKS, click_of

SPEECH_DB, ROOM = -25.0, 10 ** (-62 / 20)
LIMIT_DB = 5.7


def click_db(left: np.ndarray, right: np.ndarray) -> float:
    sides = seam(left, len(left), -85.0, before=True), seam(right, 0, -85.0, before=False)
    return seam_db(*sides, SPEECH_DB)


def noises(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    left, right = rng.standard_normal((2, 4000)) * ROOM
    return left.astype(np.float32), right.astype(np.float32)


@pytest.mark.parametrize("shape", CLICKS[1:])
def test_a_click_of_any_shape_stands_out_of_a_room(shape):
    rng = np.random.default_rng(3)
    for _ in range(20):
        left, right = noises(rng)
        before, after = click_of(shape, rng, 0.03, len(right))
        left[len(left) - len(before) :] += before
        assert click_db(left, right + after) >= LIMIT_DB


def test_where_two_rooms_meet_nothing_clicks():
    rng = np.random.default_rng(4)
    assert max(click_db(*noises(rng)) for _ in range(60)) < LIMIT_DB
    # Nor where a room rumbles, and each stretch is anywhere in its swing.
    walk = np.cumsum(rng.standard_normal(60 * 8000))
    rumble = (0.004 * (walk - np.convolve(walk, np.ones(400) / 400, "same"))).astype(np.float32)
    stretches = rumble.reshape(60, 8000)[1:-1]
    assert (
        max(click_db(one[:4000], other[4000:]) for one, other in zip(stretches, stretches[::-1], strict=True))
        < LIMIT_DB
    )


def test_a_recording_that_lies_off_zero_as_a_whole_does_not_click_in_itself():
    left, right = noises(np.random.default_rng(5))
    assert click_db(left + 0.05, right + 0.05) < LIMIT_DB
    assert click_db(left, right + 0.05) >= LIMIT_DB
    assert seam_db(NO_SEAM, seam(right, 0, -85.0, before=False), SPEECH_DB) == 0.0


def test_few_phrases_tell_less_than_many():
    """The predictive distribution of a normal whose variance has a conjugate prior, by scipy's quantiles."""
    wide = t.isf(norm.sf(2.6), PHRASES) / 2.6
    assert phrases_sd_db([]) == phrases_sd_db([-20.0]) == pytest.approx(PHRASES_DB * wide)
    rng = np.random.default_rng(6)
    for true_db in (0.8, 4.0):
        levels = rng.normal(-25, true_db, 400)
        assert phrases_sd_db(levels.tolist()) == pytest.approx(true_db, rel=0.1)
        few = [phrases_sd_db(levels[at : at + 3].tolist()) for at in range(0, 300, 3)]
        assert np.std(few) < np.std([np.std(levels[at : at + 3], ddof=1) for at in range(0, 300, 3)])
    assert phrases_sd_db([-20.0, -20.0, -20.0]) > 0.5


def test_voices_are_told_apart_by_their_means_against_how_much_they_vary():
    rng = np.random.default_rng(7)
    drawn = rng.standard_normal((2000, CEPSTRA))
    one = Speaker(drawn.mean(axis=0), np.cov(drawn.T), 2000, 120.0)
    assert likeness(one, one) == 1.0
    near, far = (replace(one, mean=one.mean + step / CEPSTRA**0.5) for step in (0.9, 1.7))
    assert likeness(one, near) == 1.0
    assert likeness(one, far) == 0.0
    lively = replace(one, covariance=4 * one.covariance)
    assert likeness(lively, replace(far, covariance=4 * far.covariance)) == 1.0
    assert likeness(one, replace(one, pitch_hz=190.0)) == 0.0
    assert likeness(one, UNKNOWN) == likeness(UNKNOWN, UNKNOWN) == 0.0
    kept = Speaker.of(one.as_array())
    assert likeness(kept, one) == 1.0
    assert (kept.frames, kept.pitch_hz) == (2000, 120.0)


def test_voices_with_one_mean_are_told_apart_by_how_they_vary():
    """Against the overlap of two normal densities, integrated; and against many drawn from one."""
    rng = np.random.default_rng(8)
    wide, narrow = np.full(CEPSTRA, 3.0), np.linspace(0.8, 3.0, CEPSTRA)
    one, other = (Speaker(np.zeros(CEPSTRA), np.diag(sd**2), 4000, 120.0) for sd in (wide, narrow))
    overlaps = [
        quad(lambda x, a=a, b=b: np.sqrt(norm.pdf(x, scale=a) * norm.pdf(x, scale=b)), -30, 30)[0]
        for a, b in np.sqrt(np.stack([wide, narrow]) ** 2 + 0.05).T
    ]
    assert varied(one, other, 0.0) == pytest.approx(-np.log(overlaps).sum())
    assert likeness(one, other) == 0.0
    drawn = rng.normal(0, 3, (40, 2, 1000, CEPSTRA))
    pairs = [[replace(one, covariance=np.cov(part.T), frames=1000) for part in pair] for pair in drawn]
    by_chance = float(np.mean([varied(*pair, 0.0) for pair in pairs]))
    assert by_chance == pytest.approx(CEPSTRA * (CEPSTRA + 1) / 16 * 2 / 1000, rel=0.1)
    few = replace(one, frames=10 * ALIKE_VOICES), replace(other, frames=10 * ALIKE_VOICES)
    assert likeness(*few) == 1.0
