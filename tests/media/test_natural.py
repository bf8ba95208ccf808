"""Planted events in recordings of places: they are found, and clipping is kept away from."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from mltassist.media.natural import BLOCKS_PER_S, aliveness, best_start

HZ = 48000


def place(seconds: int = 20, *, seed: int = 1) -> NDArray[np.float32]:
    """Two channels of a quiet place."""
    return (0.01 * np.random.default_rng(seed).standard_normal((2, seconds * HZ))).astype(np.float32)


def splash(sound: NDArray[np.float32], at_s: float, level: float = 0.2) -> None:
    """A burst of noise that dies away in half a second."""
    rng, start = np.random.default_rng(7), int(at_s * HZ)
    burst = level * rng.standard_normal(HZ // 2) * np.exp(-np.arange(HZ // 2) / (0.1 * HZ))
    sound[:, start : start + HZ // 2] += burst.astype(np.float32)


@pytest.mark.parametrize("at_s", [2.0, 9.3, 16.5])
@pytest.mark.parametrize("seed", range(3))
def test_the_window_holds_the_planted_events(at_s: float, seed: int) -> None:
    sound = place(seed=seed)
    for later in (0.0, 0.8, 1.6):
        splash(sound, at_s + later)
    first = best_start(aliveness(sound, HZ), 3 * BLOCKS_PER_S) / BLOCKS_PER_S
    assert first <= at_s + 0.1
    assert at_s + 1.6 < first + 3


def test_the_block_of_an_event_is_the_most_alive_one() -> None:
    sound = place()
    splash(sound, 12.0)
    assert int(np.argmax(aliveness(sound, HZ))) == pytest.approx(120, abs=1)


def test_the_first_moment_of_a_steady_place_is_no_event() -> None:
    alive = aliveness(place(), HZ)
    assert alive[0] < np.median(alive) + 3.0


def test_what_happens_matters_more_than_what_only_is_loud() -> None:
    drone = place(20)
    drone[:, 14 * HZ :] *= 1.5
    for later in range(6):
        splash(drone, 3.0 + later * 0.5, 0.1)
    assert 25 <= best_start(aliveness(drone, HZ), 30) <= 35


@pytest.mark.parametrize("side", [0, 1])
def test_clipping_on_either_channel_is_avoided(side: int) -> None:
    sound = place()
    splash(sound, 5.0, 0.1)
    splash(sound, 14.0, 0.1)
    for block in range(20):
        sound[side, 14 * HZ + block * HZ // 10] = 1.0
    assert aliveness(sound, HZ)[141] < 0
    assert best_start(aliveness(sound, HZ), 20) < 55


@pytest.mark.parametrize("count", [0, 1, HZ // 10 - 1])
def test_less_than_a_block_has_no_moment(count: int) -> None:
    alive = aliveness(np.zeros((2, count), np.float32), HZ)
    assert alive.size == 0
    assert best_start(alive, 10) == 0


def test_silence_is_nowhere_alive() -> None:
    alive = aliveness(np.zeros((1, HZ), np.float32), HZ)
    assert alive.shape == (10,)
    assert not alive.any()


def test_where_the_window_is_the_whole_there_is_no_choice() -> None:
    assert best_start(np.array([0.0, 5.0]), 2) == 0
    assert best_start(np.array([0.0, 5.0, 1.0]), 2) == 1
