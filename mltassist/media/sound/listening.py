"""Sound made small for listening: Opus in WebM for browsers, and files with chapters for any player."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from mltassist.errors import OutputError
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.recordings import Sound

if TYPE_CHECKING:
    from av.audio.frame import AudioFrame
    from av.audio.stream import AudioStream

CHAPTERED = {".m4a": "aac", ".mp3": "libmp3lame", ".mka": "libopus", ".ogg": "libopus", ".opus": "libopus"}
"""Endings of files that can have chapters, with the codec that players expect in each."""
REEL_BPS = 96_000
"""Bits a second of a file for any player: AAC needs more than Opus does."""
RATE_BPS = 40_000
"""Bits a second of one channel: speech is then not told from the original (the codec's own listening tests,
from memory), and the room behind it still sounds like itself."""
TYPE = "audio/webm"


def webm(sound: Sound, *, rate_bps: int = RATE_BPS) -> bytes:
    """Sound as one channel of Opus in WebM: shape (channels, samples) at 48 kHz, full scale ±1.0.

    The file tells its duration. Sound without samples gives a file with none.
    """
    import av  # noqa: PLC0415 - heavy, and wanted only where a page is made

    target = io.BytesIO()
    with av.open(target, "w", format="webm") as container:
        stream = container.add_stream("libopus", rate=MIX_HZ, layout="mono", bit_rate=rate_bps)
        for frame in _frames(stream, [sound] if sound.size else []):
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return target.getvalue()


def codec_for(path: Path) -> str:
    """The codec of a file with chapters. Raises OutputError where the ending is of no kind that has any."""
    codec = CHAPTERED.get(path.suffix.lower())
    if codec is None:
        raise OutputError(path, "is no kind of sound file with chapters", f"end it in {', '.join(CHAPTERED)}")
    return codec


def save_chapters(path: Path, parts: Iterable[tuple[str, Sound]]) -> None:
    """Write sounds one after the other as one file, a chapter for each that has a title.

    Sounds are at 48 kHz, shape (channels, samples), and become one channel. The ending of the name says what
    it becomes. What is there under the name is replaced. Raises OutputError where it cannot be written, or
    the ending is of no kind that has chapters.
    """
    import av  # noqa: PLC0415 - see webm

    codec = codec_for(path)
    every = list(parts)
    partial = path.with_name(f".{path.name}.part{path.suffix}")
    try:
        with av.open(str(partial), "w") as container:
            stream = cast(
                "AudioStream", container.add_stream(codec, rate=MIX_HZ, layout="mono", bit_rate=REEL_BPS)
            )
            container.set_chapters(_chapters(every))
            for frame in _frames(stream, [sound for _, sound in every]):
                container.mux(stream.encode(frame))
            container.mux(stream.encode(None))
        partial.replace(path)
    except (OSError, av.error.FFmpegError) as error:
        partial.unlink(missing_ok=True)
        raise OutputError(path, f"cannot be written ({error.strerror or error})", "choose another") from error


def _chapters(parts: list[tuple[str, Sound]]) -> list[Any]:
    found: list[Any] = []
    at = 0
    for title, sound in parts:
        end = at + sound.shape[1]
        if title:
            place = {"id": len(found) + 1, "start": at * 1000 // MIX_HZ, "end": end * 1000 // MIX_HZ}
            found.append({**place, "time_base": Fraction(1, 1000), "metadata": {"title": title}})
        at = end
    return found


def _frames(stream: AudioStream, sounds: Iterable[Sound]) -> Iterator[AudioFrame]:
    """The sounds as frames of one channel, of the size and kind that a codec takes."""
    import av  # noqa: PLC0415 - see webm

    size = stream.codec_context.frame_size
    resampler = av.AudioResampler(stream.codec_context.format.name, "mono", MIX_HZ, frame_size=size)
    at = 0
    for sound in sounds:
        mono = np.ascontiguousarray(sound.mean(axis=0, keepdims=True).clip(-1, 1), np.float32)
        frame = av.AudioFrame.from_ndarray(mono, "fltp", "mono")
        frame.sample_rate, frame.time_base, frame.pts = MIX_HZ, Fraction(1, MIX_HZ), at
        at += mono.shape[1]
        yield from resampler.resample(frame)
    if at:
        yield from resampler.resample(None)
