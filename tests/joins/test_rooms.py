"""Rooms are compared inside the bands in which they are heard, by what most of these say."""

from __future__ import annotations

import numpy as np
import pytest

from mltassist.joins.clicks import LENGTH, NEAR_SAMPLES, click, onset
from mltassist.joins.rooms import BAND_DB, MOST_DB, compare_rooms, compared
from mltassist.recipe.rules import ListenRules

FLOOR_DB = -80.0


def room(*bands_db: float) -> tuple[float, np.ndarray]:
    bands = np.array(bands_db)
    return float(10 * np.log10(np.sum(10 ** (bands / 10)))), bands


def test_what_a_telephone_cuts_away_does_not_hide_a_step():
    narrow = room(*[-60.0] * 9, *[-100.0] * 15)
    louder = room(*[-56.0] * 9, *[-100.0] * 15)
    step, colour = compare_rooms(narrow, louder, FLOOR_DB)
    assert step == pytest.approx(4.0)
    assert colour == pytest.approx(0.0, abs=1e-9)


def test_rumble_in_a_band_is_no_step_of_the_room_and_colours_it_only_so_far():
    still = room(*[-60.0] * 24)
    rumbling = room(-35.0, *[-60.0] * 23)
    step, colour = compare_rooms(still, rumbling, FLOOR_DB)
    assert rumbling[0] - still[0] > 10
    assert step == pytest.approx(0.0)
    assert colour == pytest.approx(MOST_DB / np.sqrt(24))


def test_a_room_that_nobody_hears_is_none():
    assert compare_rooms(room(*[-110.0] * 24), room(*[-98.0] * 24), FLOOR_DB) == (0.0, 0.0)


def test_many_pairs_are_compared_as_one_is_and_nothing_leaps():
    rng = np.random.default_rng(4)
    floor = FLOOR_DB - BAND_DB
    left, right = (rng.uniform(floor - 6, floor + 30, (400, 24)) for _ in range(2))
    steps, colours = compared(left, right, FLOOR_DB)
    for n in range(0, 400, 40):
        alone = compare_rooms((0.0, left[n]), (0.0, right[n]), FLOOR_DB)
        assert alone == pytest.approx((steps[n], colours[n]))
    # Its own share of the mean, and that of its weight where it rises out of the floor.
    moved, coloured = compared(left, right + 0.01, FLOOR_DB)
    assert np.abs(moved - steps).max() <= 0.03
    assert np.abs(coloured - colours).max() <= 0.03


def test_noise_that_meets_noise_is_no_click_and_what_stands_out_of_it_is():
    rng = np.random.default_rng(1)
    limit = ListenRules().click_limit_db
    smooth = np.convolve(rng.standard_normal(33000), np.hanning(60), "same").astype(np.float32)
    smooth *= np.float32(0.003 / smooth.std())
    level = 20 * np.log10(0.003)
    places = rng.integers(400, 32000, (200, 2))
    joins = [(smooth[a - 400 : a], smooth[b : b + 400]) for a, b in places]
    assert np.mean([click(*both, room_dbfs=level) >= limit for both in joins]) <= 0.01
    assert np.mean([click(*both) >= limit for both in joins]) > 0.5  # where the room is not known of
    step = np.float32(0.02)
    assert np.mean([click(before, after + step, room_dbfs=level) >= limit for before, after in joins]) > 0.9


def a_room(count: int, seed: int) -> np.ndarray:
    """A room of -50 dBFS whose hiss falls from 2 kHz on."""
    sound = np.convolve(np.random.default_rng(seed).standard_normal(count + 11), np.hanning(12), "valid")
    return (sound * 0.003 / sound.std()).astype(np.float32)


def test_a_jump_that_dies_away_is_found_within_what_the_room_swings():
    """One 7 dB over the room's level, which the sample at the edit alone hides."""
    limit, cut = ListenRules().click_limit_db, NEAR_SAMPLES
    shape = np.exp(-np.arange(4 * NEAR_SAMPLES - cut) / 128).astype(np.float32)
    rooms = [a_room(4 * NEAR_SAMPLES, seed) for seed in range(60)]
    jumps = [room + np.float32(0.007) * np.pad(shape, (cut, 0)) for room in rooms]
    alone = [
        click(room[:cut], jump[cut:], -20.0, -50.5) for room, jump in zip(rooms[1:], jumps, strict=False)
    ]
    assert sum(one >= limit for one in alone) <= 0.1 * len(alone)
    assert sum(onset(room, cut, -90.0).click_db(-20.0) >= limit for room in rooms) <= 1
    assert sum(onset(jump, cut, -90.0).click_db(-20.0) >= limit for jump in jumps) >= 0.95 * len(jumps)


def test_what_is_no_jump_at_the_edit_is_none():
    room, cut = a_room(4 * NEAR_SAMPLES, 3), NEAR_SAMPLES
    limit = ListenRules().click_limit_db
    # A word that begins 20 ms later, and a hum that runs on.
    word = room.copy()
    word[cut + LENGTH :] += np.float32(0.1) * np.sin(np.arange(4 * NEAR_SAMPLES - cut - LENGTH) / 10).astype(
        np.float32
    )
    turns = np.arange(4 * NEAR_SAMPLES) * 50 / 16000
    hum = room + np.float32(0.02) * np.sin(2 * np.pi * turns).astype(np.float32)
    for sound in (word, hum):
        assert onset(sound, cut, -90.0).click_db(-20.0) < limit
    # Silence, and a side too short to tell; a jump far under the speech.
    assert onset(np.zeros(4 * NEAR_SAMPLES, np.float32), cut, -90.0).click_db(-20.0) <= 0
    assert onset(room[: cut + LENGTH], cut, -90.0).click_db(-20.0) <= 0
    assert onset(room, 0, -90.0).click_db(-20.0) < limit  # the recording begins there
    faint = room * np.float32(1e-3)
    faint[cut:] += np.float32(1e-3) * np.exp(-np.arange(4 * NEAR_SAMPLES - cut) / 128).astype(np.float32)
    assert onset(faint, cut, -90.0).click_db(-20.0) <= 0 < onset(faint, cut, -90.0).click_db(-50.0)
