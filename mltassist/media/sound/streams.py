"""Decoded frames of one sound stream, each with the sample at which it begins.

Time 0 is the start of the container's timeline: the earliest picture or sound that a player presents,
with encoder delay and edit lists taken off.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import chain
from math import lcm
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.frames import round_half_up
from mltassist.media.opening import open_media

if TYPE_CHECKING:
    from av.audio.frame import AudioFrame
    from av.audio.stream import AudioStream
    from av.container import InputContainer

# Opus needs 80 ms and AAC or MP3 a few blocks to settle after a seek; this is ample for all.
_PRE_ROLL_S = Fraction(3, 4)
UNINDEXED = frozenset({"aac", "ac3", "amr", "dts", "eac3", "loas", "mp3"})
"""Streams with no index: places and lengths are guessed from the bit rate; decoded from the start."""


def samples_from(
    path: Path, container: InputContainer, stream: AudioStream, start: int
) -> Iterator[tuple[int, NDArray[np.float32]]]:
    """Decoded blocks, float32 (channels, n), each with the sample at which it begins, from `start` or before.

    Counted from time 0 at the stream's own rate. Where the container's clock is coarser than a sample
    (Matroska counts milliseconds) positions after a seek are put back on the codec's block grid.

    Raises MediaError where rate or channels change on the way.
    """
    rate_hz, channels = stream.codec_context.sample_rate, stream.codec_context.channels
    for place, frame in _placed_from(path, container, stream, start):
        if frame.sample_rate != rate_hz or frame.layout.nb_channels != channels:
            raise MediaError(path, "its sampling rate or channels change in the middle; convert it first")
        # What comes before is decoded only so that the codec settles.
        if place + frame.samples > start:
            yield place, _floats(frame, channels)


def _placed_from(
    path: Path, container: InputContainer, stream: AudioStream, start: int
) -> Iterator[tuple[int, AudioFrame]]:
    native_hz = stream.codec_context.sample_rate
    origin_s = origin_of(container)
    target_s = origin_s + Fraction(start, native_hz) - _PRE_ROLL_S
    early = target_s <= origin_s + _PRE_ROLL_S
    if early or container.format.name in UNINDEXED or stream.time_base is None:
        return _placed(container, stream, origin_s)
    grid = None
    if stream.time_base > Fraction(1, native_hz):
        leading = _placed(container, stream, origin_s)
        grid = next((place + frame.samples for place, frame in leading), None)
    import av  # noqa: PLC0415 - heavy, and loaded by now

    try:
        container.seek(int(target_s / stream.time_base), stream=stream)
    except av.error.FFmpegError:
        # Some formats refuse places beyond their end, and a FLAC file of one block every place.
        return _placed_anew(path, list(container.streams.audio).index(stream), origin_s)
    placed = _placed(container, stream, origin_s, sought=True, grid=grid)
    head = next(placed, None)
    if head is None or head[0] > start:
        # The seek came down late: only the way from the start is sure.
        container.seek(int(origin_s / stream.time_base), stream=stream)
        return _placed(container, stream, origin_s)
    return chain((head,), placed)


def _placed_anew(path: Path, number: int, origin_s: Fraction) -> Iterator[tuple[int, AudioFrame]]:
    with open_media(path) as container:
        yield from _placed(container, container.streams.audio[number], origin_s)


def origin_of(container: InputContainer) -> Fraction:
    """Time stamp at which a player starts the file, in seconds."""
    starts = [
        stream.start_time * stream.time_base
        for stream in (*container.streams.video, *container.streams.audio)
        if stream.start_time is not None and stream.time_base is not None
    ]
    return min(starts, default=Fraction(0))


def _placed(
    container: InputContainer,
    stream: AudioStream,
    origin_s: Fraction,
    *,
    sought: bool = False,
    grid: int | None = None,
) -> Iterator[tuple[int, AudioFrame]]:
    """Decoded frames, each with the native sample at which it begins.

    At the start of a file (`sought` False) the first time stamp holds. After a seek, and in Vorbis, the
    median over the first half second does: one stamp may be rounded, or off by a block where Vorbis
    changes block sizes. From there frames follow one another by count, and a stamp moves the place
    only when it is further off than that explains (a gap). `grid` is a known block boundary.
    """
    native_hz = stream.codec_context.sample_rate
    tick = (stream.time_base or Fraction(1, native_hz)) * native_hz
    slack = max(2 * tick, Fraction(native_hz, 1000))
    vorbis = stream.codec_context.name == "vorbis"
    gap = max(slack, Fraction(4096)) if vorbis else slack

    def snapped(stamp: int, block: int) -> int:
        # Vorbis mixes block sizes; all are multiples of 64 samples.
        return stamp if grid is None else _on_grid(stamp, grid, 64 if vorbis else block, slack)

    # Asked for every frame of a long file, so in whole numbers: (pts * unit - origin) * native_hz.
    # Frames keep the unit of their stream.
    unit = stream.time_base or Fraction(1, native_hz)
    whole = lcm(unit.denominator, origin_s.denominator)
    step, zero = int(unit * whole) * native_hz, int(origin_s * whole) * native_hz
    far = int(gap)

    def stamped(frame: AudioFrame) -> int | None:
        if frame.pts is None:
            return None
        return (2 * (frame.pts * step - zero) + whole) // (2 * whole)  # halves go up

    frames = _frames(container, stream)
    leading: list[AudioFrame] = []
    offsets: list[int] = []
    counted = 0
    for frame in frames:
        leading.append(frame)
        if (stamp := stamped(frame)) is not None:
            offsets.append(stamp - counted)
        counted += frame.samples
        if 2 * counted >= native_hz or not (sought or vorbis):
            break
    place = sorted(offsets)[len(offsets) // 2] if offsets else 0
    if leading:
        place = snapped(place, leading[-1].samples)
    for frame in chain(leading, frames):
        stamp = stamped(frame)
        if stamp is not None and abs(stamp - place) > far:
            place = snapped(stamp, frame.samples)
        yield place, frame
        place += frame.samples


def _on_grid(stamp: int, grid: int, step: int, slack: Fraction) -> int:
    """The block boundary that `stamp` rounds; `stamp` itself when none is near enough."""
    near = grid + round_half_up(Fraction(stamp - grid, step)) * step
    return near if abs(near - stamp) <= slack else stamp


def _frames(container: InputContainer, stream: AudioStream) -> Iterator[AudioFrame]:
    """All frames from here on; a damaged packet is passed over, as players do."""
    import av  # noqa: PLC0415 - see read_sound

    for packet in container.demux(stream):
        try:
            yield from packet.decode()
        except av.error.InvalidDataError:
            continue


_KINDS = {"u8": np.uint8, "s16": np.int16, "s32": np.int32, "flt": np.float32, "dbl": np.float64}
_PLANAR = {f"{name}p": kind for name, kind in _KINDS.items()}


def _raw(frame: AudioFrame, channels: int) -> NDArray[Any]:
    """The frame's samples as they are, (channels, samples); the library's own way takes thrice as long."""
    name, count = frame.format.name, frame.samples
    kind = _KINDS.get(name) or (_PLANAR.get(name) if channels == 1 else None)
    if kind is not None:  # of one channel all planes are alike
        return np.frombuffer(memoryview(frame.planes[0]), kind, count * channels).reshape(-1, channels).T
    kind = _PLANAR.get(name)
    if kind is None:
        raw: NDArray[Any] = frame.to_ndarray()
        return raw if frame.format.is_planar else raw.reshape(-1, channels).T
    sound = np.empty((channels, count), kind)
    for number, plane in enumerate(frame.planes):
        sound[number] = np.frombuffer(memoryview(plane), kind, count)
    return sound


def _floats(frame: AudioFrame, channels: int) -> NDArray[np.float32]:
    """The frame's samples as float32 (channels, samples), full scale 1.0."""
    raw = _raw(frame, channels)
    sound = raw.astype(np.float32, copy=False)
    if raw.dtype == np.uint8:
        return sound / np.float32(128) - np.float32(1)
    if raw.dtype.kind == "i":
        return sound / np.float32(1 << (8 * raw.dtype.itemsize - 1))
    return sound
