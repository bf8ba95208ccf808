"""Facts read from files written here with known properties."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from mltassist.errors import MediaError, SourceMissing
from mltassist.media.probe import probe


def film(path: Path, rate: Fraction, frames: int, sounds: int, stamps: list[int] | None = None) -> None:
    with av.open(str(path), "w") as container:
        video = container.add_stream("mpeg4", rate=rate)
        assert isinstance(video, av.VideoStream)
        video.width, video.height, video.pix_fmt = 128, 96, "yuv420p"
        audio = [container.add_stream("aac", rate=44100, layout="stereo") for _ in range(sounds)]
        for index in range(frames):
            picture = av.VideoFrame.from_ndarray(np.full((96, 128, 3), index, np.uint8), format="rgb24")
            picture.pts = stamps[index] if stamps else index
            picture.time_base = 1 / rate
            container.mux(video.encode(picture))
        container.mux(video.encode(None))
        for stream in audio:
            assert isinstance(stream, av.AudioStream)
            block = av.AudioFrame.from_ndarray(
                np.zeros((2, 1024), np.float32), format="fltp", layout="stereo"
            )
            block.sample_rate, block.pts = 44100, 0
            container.mux(stream.encode(block))
            container.mux(stream.encode(None))


@pytest.mark.parametrize("suffix", ["mp4", "mkv", "mov"])
@pytest.mark.parametrize("rate", [Fraction(25), Fraction(30000, 1001), Fraction(24000, 1001)], ids=str)
def test_a_film_gives_its_exact_rate_and_size(tmp_path: Path, suffix: str, rate: Fraction) -> None:
    path = tmp_path / f"film.{suffix}"
    film(path, rate, 50, sounds=2)
    facts = probe(path)
    assert facts.frame_rate == rate
    assert (facts.width, facts.height, facts.rotation) == (128, 96, 0)
    assert not facts.variable_rate
    assert facts.has_sound


def test_a_film_with_uneven_time_stamps_has_a_variable_rate(tmp_path: Path) -> None:
    stamps = [n + n // 3 for n in range(60)]
    film(tmp_path / "phone.mp4", Fraction(30), 60, sounds=0, stamps=stamps)
    facts = probe(tmp_path / "phone.mp4")
    assert facts.variable_rate
    assert not facts.has_sound


def test_a_sound_file_has_no_picture(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "room.wav", np.zeros((44101, 1)), 44100)
    facts = probe(tmp_path / "room.wav")
    assert (facts.has_sound, facts.frame_rate, facts.width) == (True, None, 0)


def test_a_still_has_a_size_and_no_rate(tmp_path: Path) -> None:
    picture = av.VideoFrame.from_ndarray(np.zeros((20, 30, 3), np.uint8), format="rgb24")
    encoder = av.CodecContext.create("png", "w")
    assert isinstance(encoder, av.VideoCodecContext)
    encoder.width, encoder.height, encoder.pix_fmt, encoder.time_base = 30, 20, "rgb24", Fraction(1, 25)
    (tmp_path / "still.png").write_bytes(b"".join(bytes(p) for p in encoder.encode(picture)))
    facts = probe(tmp_path / "still.png")
    assert (facts.width, facts.height) == (30, 20)
    assert (facts.frame_rate, facts.has_sound) == (None, False)


def test_files_of_one_device_and_setting_are_alike_whatever_their_length(tmp_path: Path) -> None:
    film(tmp_path / "one.mp4", Fraction(25), 20, 1)
    film(tmp_path / "long.mp4", Fraction(25), 60, 1)
    film(tmp_path / "mute.mp4", Fraction(25), 20, 0)
    film(tmp_path / "fast.mp4", Fraction(50), 20, 1)
    one, long, mute, fast = (probe(tmp_path / f"{n}.mp4").made_by for n in ("one", "long", "mute", "fast"))
    assert one == long
    assert len({one, mute, fast}) == 3
    soundfile.write(tmp_path / "a.wav", np.zeros((4800, 2)), 48000)
    soundfile.write(tmp_path / "b.wav", np.zeros((4800, 1)), 48000)
    assert probe(tmp_path / "a.wav").made_by != probe(tmp_path / "b.wav").made_by


def test_a_missing_file_and_rubbish_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(SourceMissing, match="not there"):
        probe(tmp_path / "gone.mp4")
    (tmp_path / "rubbish.mp4").write_bytes(b"rubbish" * 999)
    with pytest.raises(MediaError, match="no picture or sound"):
        probe(tmp_path / "rubbish.mp4")
    with pytest.raises(MediaError):
        probe(tmp_path)


def test_a_file_that_has_changed_is_read_anew(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    soundfile.write(path, np.zeros((800, 1), np.float32), 8000)
    before = probe(path)
    assert probe(path) is before  # its headers are not asked again
    film(path.with_suffix(".mp4"), Fraction(25), 5, sounds=0)
    path.with_suffix(".mp4").replace(path)
    after = probe(path)
    assert (before.has_sound, before.width) == (True, 0)
    assert (after.has_sound, after.width) == (False, 128)
