"""Files whose clock is at fault are told by name, sane ones are not."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import soundfile

from mltassist.media.timing import timing_faults

RATE_HZ = 48000


def film(path: Path, *, stamps: list[int], hole_s: float = 0.0, late_s: float = 0.0) -> Path:
    """Pictures at these stamps (in 1/1000 s) with 4 s of sound, which may stop or begin late."""
    with av.open(str(path), "w") as container:
        picture = container.add_stream("mpeg4", rate=25)
        picture.width, picture.height, picture.pix_fmt = 64, 48, "yuv420p"
        picture.codec_context.time_base = Fraction(1, 1000)
        sound = container.add_stream("pcm_s16le" if path.suffix == ".mov" else "aac", rate=RATE_HZ)
        rng = np.random.default_rng(1)
        for stamp in stamps:
            frame = av.VideoFrame.from_ndarray(rng.integers(0, 255, (48, 64, 3), np.uint8), format="rgb24")
            frame.pts, frame.time_base = stamp, Fraction(1, 1000)
            container.mux(picture.encode(frame))
        container.mux(picture.encode())
        for n in range(4 * RATE_HZ // 1024):
            block = av.AudioFrame(format="s16", layout="stereo", samples=1024)
            block.planes[0].update(rng.integers(-99, 99, 2048, dtype=np.int16).tobytes())
            block.sample_rate = RATE_HZ
            block.time_base = Fraction(1, RATE_HZ)
            block.pts = n * 1024 + int(late_s * RATE_HZ) + (int(hole_s * RATE_HZ) if n > 90 else 0)
            for packet in sound.encode(block):
                container.mux(packet)
        container.mux(sound.encode())
    return path


STEADY = [40 * n for n in range(100)]


def test_a_sane_film_and_a_sane_sound_have_no_fault(tmp_path):
    assert timing_faults(film(tmp_path / "sane.mp4", stamps=STEADY)) == ()
    soundfile.write(tmp_path / "sane.wav", np.zeros((RATE_HZ, 2)), RATE_HZ)
    assert timing_faults(tmp_path / "sane.wav") == ()


def test_a_variable_frame_rate_is_told_by_name(tmp_path):
    rng = np.random.default_rng(2)
    stamps = np.cumsum(rng.choice([20, 33, 50, 120], 100)).tolist()
    faults = timing_faults(film(tmp_path / "phone.mp4", stamps=stamps))
    assert any(fault.startswith("phone.mp4 has a variable frame rate") for fault in faults)


def test_a_hole_in_the_sound_is_told_with_its_place(tmp_path):
    faults = timing_faults(film(tmp_path / "torn.mkv", stamps=STEADY, hole_s=0.5))
    assert len(faults) == 1
    assert faults[0].startswith("the sound of torn.mkv stops for 0.5 s at 1.9 s")


def test_sound_that_begins_late_is_told(tmp_path):
    faults = timing_faults(film(tmp_path / "late.mkv", stamps=STEADY, late_s=0.7))
    assert faults == ("the sound of late.mkv begins 0.7 s after its picture",)


def test_a_length_that_the_file_does_not_hold_is_told(tmp_path):
    path = tmp_path / "cut.flac"
    soundfile.write(path, np.random.default_rng(1).uniform(-1, 1, (4 * RATE_HZ, 2)), RATE_HZ)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert any("says that it lasts 4.0 s" in fault for fault in timing_faults(path))


def test_a_long_sound_and_a_film_that_were_cut_are_told_too(tmp_path):
    path = tmp_path / "hour.flac"
    soundfile.write(path, np.random.default_rng(1).uniform(-1, 1, (100 * 8000, 1)), 8000)
    assert timing_faults(path) == ()
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 8 // 10])
    (fault,) = timing_faults(path)
    assert fault.startswith("hour.flac says that it lasts 100.0 s, but holds 80")
    path = film(tmp_path / "torn off.mkv", stamps=STEADY)
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 6 // 10])
    assert any("torn off.mkv says that it lasts 4.0 s, but holds 2" in told for told in timing_faults(path))


def test_a_length_that_is_only_guessed_is_no_fault(tmp_path):
    # A bare AAC stream states no length: the reader guesses one from the bit rate of its beginning.
    path = tmp_path / "bare.aac"
    with av.open(str(path), "w", format="adts") as container:
        stream = container.add_stream("aac", rate=RATE_HZ, layout="mono")
        for n in range(500):
            noise = np.random.default_rng(n).uniform(-1, 1, (1, 1024)) * (n < 60)
            frame = av.AudioFrame.from_ndarray(noise.astype(np.float32), format="fltp", layout="mono")
            frame.sample_rate, frame.pts = RATE_HZ, n * 1024
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    assert timing_faults(path) == ()


def test_what_cannot_be_read_is_left_to_those_who_use_it(tmp_path):
    (tmp_path / "broken.mp4").write_bytes(b"no film at all" * 100)
    assert timing_faults(tmp_path / "broken.mp4") == ()
    assert timing_faults(tmp_path / "missing.mp4") == ()
