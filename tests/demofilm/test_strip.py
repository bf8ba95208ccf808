from __future__ import annotations

import io
from fractions import Fraction

import av
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.demofilm.pictures import numbered, scene
from mltassist.demofilm.strip import HEIGHT, WIDTH, crc8, encode_strip
from tests.strips import read_strip


def picture() -> np.ndarray:
    return np.full((HEIGHT, WIDTH, 3), 90, np.uint8)


def test_the_checksum_is_the_publishedcrc8() -> None:
    # Catalogue of parametrised CRC algorithms: CRC-8/SMBUS of "123456789" is 0xF4.
    assert crc8(b"123456789") == 0xF4


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 4095), st.integers(0, 65535))
def test_every_number_that_fits_is_read_back(clip: int, frame: int) -> None:
    image = picture()
    encode_strip(image, clip, frame)
    assert read_strip(image) == (clip, frame)


@pytest.mark.parametrize("numbers", [(4096, 0), (0, 65536), (-1, 0)])
def test_numbers_that_do_not_fit_are_refused(numbers: tuple[int, int]) -> None:
    with pytest.raises(ValueError, match="fit"):
        encode_strip(picture(), *numbers)


def test_a_picture_of_another_size_is_refused() -> None:
    with pytest.raises(ValueError, match="640x360"):
        encode_strip(np.zeros((180, 320, 3), np.uint8), 1, 1)


@pytest.mark.parametrize("bit", range(4, 40))
def test_one_wrong_cell_makes_the_strip_unreadable(bit: int) -> None:
    image = picture()
    encode_strip(image, 1234, 4321)
    cell = image[-12:, bit * 16 : bit * 16 + 16]
    cell[:] = 251 - cell
    assert read_strip(image) is None


def test_a_picture_without_a_strip_gives_nothing() -> None:
    random = np.random.default_rng(1)
    assert read_strip(picture()) is None
    assert read_strip(np.zeros((HEIGHT, WIDTH, 3), np.uint8)) is None
    assert read_strip(random.integers(0, 256, (HEIGHT, WIDTH, 3), np.uint8)) is None
    assert read_strip(np.zeros((4, 4, 3), np.uint8)) is None


def test_a_faded_picture_is_still_read() -> None:
    image = picture()
    encode_strip(image, 7, 99)
    assert read_strip((image * 0.4).astype(np.uint8)) == (7, 99)


@pytest.mark.parametrize("size", [(320, 180), (1280, 720), (1920, 1080), (854, 480)])
def test_a_scaled_picture_is_still_read(size: tuple[int, int]) -> None:
    image = picture()
    encode_strip(image, 2047, 30001)
    scaled = av.VideoFrame.from_ndarray(image, format="rgb24").reformat(*size, format="rgb24")
    assert read_strip(scaled.to_ndarray()) == (2047, 30001)


def test_the_strip_survives_coarse_h264() -> None:
    painter = numbered(scene("gulls", "WS"), "gulls WS", 611)
    stored = io.BytesIO()
    with av.open(stored, "w", format="mp4") as container:
        stream = container.add_stream("libx264", rate=Fraction(25))
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        stream.options = {"crf": "40", "preset": "veryfast", "threads": "1"}
        for number in range(20):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(painter(number), format="rgb24")))
        container.mux(stream.encode(None))
    stored.seek(0)
    with av.open(stored) as container:
        seen = [read_strip(frame.to_ndarray(format="rgb24")) for frame in container.decode(video=0)]
    assert seen == [(611, number) for number in range(20)]
