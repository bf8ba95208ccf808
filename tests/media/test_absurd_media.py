"""What no camera or recorder writes is refused in one line, before memory is asked for it."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
import soundfile

from mltassist.errors import MediaError
from mltassist.media.opening import believable
from mltassist.media.probe import probe
from mltassist.media.sound.decode import read_sound
from tests.cli.films import EXAMPLE

FILM = EXAMPLE / "media/cutaways/wheel-ws.mp4"


def sound(path, *, channels=1, rate_hz=48_000):
    """A WAV file whose format chunk says so; channels at byte 22, rate at 24 (RIFF, EBU Tech 3285)."""
    soundfile.write(path, np.zeros(4_800), 48_000)
    data = bytearray(path.read_bytes())
    data[22:24], data[24:28] = channels.to_bytes(2, "little"), rate_hz.to_bytes(4, "little")
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("absurd", [{"channels": 1_000}, {"rate_hz": 4_000_000_000}], ids=str)
@pytest.mark.parametrize("suffix", [".wav", ".w"])  # by both libraries
def test_absurd_sound(tmp_path, absurd, suffix):
    path = sound(tmp_path / "x.wav", **absurd).rename(tmp_path / f"x{suffix}")
    tracemalloc.start()
    for use in (lambda: read_sound(path, 0, 48_000), lambda: probe(path)):
        with pytest.raises(MediaError) as told:
            use()
        assert str(path) in str(told.value)
    assert tracemalloc.get_traced_memory()[1] < 30 * 2**20
    tracemalloc.stop()


def test_absurd_picture(tmp_path):
    data = bytearray(FILM.read_bytes())
    # The sample entry of AVC (ISO/IEC 14496-12, 12.1.3): its width and height follow 24 bytes of others.
    at = data.index(b"avc1", data.index(b"stsd")) + 28
    data[at : at + 4] = b"\xff\xff\xff\xff"
    path = tmp_path / "x.mp4"
    path.write_bytes(data)
    with pytest.raises(MediaError, match="pixels: it is damaged"):
        probe(path)


def test_much_is_believed(tmp_path):
    path = sound(tmp_path / "x.wav", channels=2, rate_hz=384_000)
    assert read_sound(path, 0, 480).shape == (2, 480)
    assert probe(path).has_sound
    believable(path, width=15_360, height=8_640, channels=64, rate_hz=705_600)  # 16K; DSD of twice the rate
