"""Media with bytes torn out, turned over or added, and what all readers make of them."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import soundfile

from mltassist.errors import MediaError
from mltassist.frames import Rate, Span
from mltassist.media.picture.alpha import transparent_share
from mltassist.media.picture.glimpses import glimpses
from mltassist.media.picture.thumbnails import picture_at
from mltassist.media.probe import probe
from mltassist.media.sound.recordings import recording_of
from mltassist.media.timing import timing_faults
from mltassist.media.transcript import read_transcript
from tests.cli.films import EXAMPLE

WHOLE = ("cutaways/wheel-ws.mp4", "narration/narrator.m4a", "interview/ines.srt")


def whole_media(folder: Path) -> list[tuple[str, bytes]]:
    """One of each kind: (suffix, bytes)."""
    found = [(Path(name).suffix, (EXAMPLE / "media" / name).read_bytes()) for name in WHOLE]
    for suffix in (".wav", ".flac", ".ogg"):
        path = folder / f"whole{suffix}"
        soundfile.write(path, np.sin(np.arange(24_000) / 9) * 0.3, 48_000)
        found.append((suffix, path.read_bytes()))
        path.unlink()
    return found


def damaged(data: bytes, dice: random.Random) -> bytes:
    """The bytes with one to eight faults, most of them near the beginning, where headers are."""
    damaged = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 8))):
        reach = len(damaged) if dice.random() < 0.4 else min(len(damaged), 4096)
        at, chance = dice.randrange(max(1, reach)), dice.random()
        if chance < 0.5:
            damaged[at : at + 1] = bytes([dice.randrange(256)])
        elif chance < 0.7:
            damaged[at : at + 4] = dice.choice((b"\xff" * 4, b"\0" * 4, b"\x7f\xff\xff\xff", b"\x80\0\0\0"))
        elif chance < 0.8:
            del damaged[at : at + dice.randrange(1, 5000)]
        elif chance < 0.9:
            damaged[at:at] = dice.randbytes(dice.randrange(1, 500))
        else:
            del damaged[at:]
    return bytes(damaged)


def use(path: Path) -> bool:
    """Read a file in every way; False where it is refused with a reason by all."""
    done = 0
    readers = (
        probe,
        timing_faults,
        lambda one: recording_of(one, 0).read(Span(0, 9_600)),
        lambda one: picture_at(one, 12, Rate(25)),
        lambda one: glimpses(one, 2),
        transparent_share,
        read_transcript,
    )
    for read in readers:
        try:
            done += bool(read(path) is not None) and read is not timing_faults
        except MediaError as error:
            assert str(path) in str(error)
            assert "\n" not in str(error)
    return done > 0
