"""Sound out of media files, sample accurate, and the folds to two channels and to one.

Time 0 is the start of the container's timeline: the earliest picture or sound that a player presents,
with encoder delay and edit lists taken off. Reads of the same samples agree whatever range they are
part of, except for what the codec itself keeps in memory beyond the pre-roll.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import chain
from math import ceil, gcd, lcm
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from mltassist.errors import MediaError, SourceMissing
from mltassist.frames import Span, round_half_up

if TYPE_CHECKING:
    from av.audio.frame import AudioFrame
    from av.audio.stream import AudioStream
    from av.container import InputContainer

# Opus needs 80 ms and AAC or MP3 a few blocks to settle after a seek; this is ample for all.
_PRE_ROLL_S = Fraction(3, 4)
UNINDEXED = frozenset({"aac", "ac3", "amr", "dts", "eac3", "loas", "mp3"})
"""Streams with no index: places and lengths are guessed from the bit rate; decoded from the start."""
_EQUAL_POWER = np.float32(0.5**0.5)


def read_sound(
    path: Path, start: int, count: int, *, rate_hz: int = 48000, stream: int = 0
) -> NDArray[np.float32]:
    """Samples `start` to `start + count` of sound stream number `stream`: float32 (channels, count).

    `start` and `count` are in samples at `rate_hz` from time 0 of the file; what lies outside the
    file is silent. Other native rates are resampled by a zero-phase filter on the grid of time 0, so
    the delay is exactly none. Where the container's clock is coarser than a sample (Matroska counts
    milliseconds) positions after a seek are put back on the codec's block grid.

    Raises SourceMissing when there is no file, MediaError when it or the stream cannot be read.
    """
    if not path.exists():
        raise SourceMissing(path, "the file is not there; relink the clip or bring the file back")
    if stream == 0 and path.suffix.lower() in (".wav", ".flac"):
        plain = _read_plain(path, start, count, rate_hz)
        if plain is not None:
            return plain
    import av  # noqa: PLC0415 - heavy, and not wanted for plain wav

    try:
        with av.open(str(path)) as container:
            streams = container.streams.audio
            if not streams:
                raise MediaError(path, "it has no sound stream; use a clip with sound or mute it")
            if stream >= len(streams):
                raise MediaError(path, f"it has no sound stream {stream}, only {len(streams)} of them")
            return _at_rate(path, container, streams[stream], Span(start, start + count), rate_hz)
    except av.error.FFmpegError as problem:
        raise MediaError(path, f"it cannot be decoded ({problem.strerror}); check that it plays") from problem


def as_stereo(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """Fold (channels, n) to (2, n).

    Mono goes to both sides at 1/sqrt(2) (-3.01 dB), as the engine plays it; stereo stays. More
    channels, in the order L R C (LFE) Ls Rs, follow the downmix of ITU-R BS.775-3 Annex 4:
    L' = L + 0.7071 C + 0.7071 Ls, R' alike, LFE left out, with no overall attenuation. Four
    channels are L R Ls Rs; three are L R C; channels past the sixth are left out.
    """
    channels = sound.shape[0]
    if channels == 1:
        return np.repeat(sound * _EQUAL_POWER, 2, axis=0)
    if channels == 2:
        return sound
    front = sound[:2]
    if channels == 3:
        return front + _EQUAL_POWER * sound[2:3]
    if channels == 4:
        return front + _EQUAL_POWER * sound[2:4]
    surround = sound[3:5] if channels == 5 else sound[4:6]
    return front + _EQUAL_POWER * (sound[2:3] + surround)


def as_mono(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """The plain mean of all channels, (1, n): for analysis, not for listening."""
    return np.asarray(sound.mean(axis=0, keepdims=True), np.float32)


def _read_plain(path: Path, start: int, count: int, rate_hz: int) -> NDArray[np.float32] | None:
    """The range straight from an uncompressed or FLAC file; None when the general way must serve."""
    import soundfile  # noqa: PLC0415 - loads a shared library, so only when needed

    try:
        with soundfile.SoundFile(str(path)) as file:
            if file.samplerate != rate_hz:
                return None
            sound = np.zeros((file.channels, count), np.float32)
            first, last = max(start, 0), min(start + count, file.frames)
            if first < last:
                file.seek(first)
                # The library's own way from 16 bits to floats takes longer than reading does.
                narrow = file.subtype == "PCM_16"
                read = file.read(last - first, dtype="int16" if narrow else "float32", always_2d=True).T
                place = sound[:, first - start : first - start + read.shape[1]]
                np.multiply(read, np.float32(2**-15 if narrow else 1), out=place)
            return sound
    except soundfile.LibsndfileError:
        return None


def _at_rate(
    path: Path, container: InputContainer, stream: AudioStream, wanted: Span, rate_hz: int
) -> NDArray[np.float32]:
    """The samples of `wanted`, counted at `rate_hz`."""
    native_hz = stream.codec_context.sample_rate
    if native_hz == rate_hz:
        return _native(path, container, stream, wanted)
    common = gcd(native_hz, rate_hz)
    up, down = rate_hz // common, native_hz // common
    # The filter reaches 10 * max(up, down) steps of the common grid to each side of a sample.
    margin = ceil(Fraction(10 * max(up, down), up)) + 2
    # A multiple of `down` native samples is a whole number of wanted ones: no fraction is lost.
    periods = (wanted.start * down // up - margin) // down
    needed = Span(periods * down, ceil(Fraction(wanted.end * down, up)) + margin)
    sound = resample_poly(_native(path, container, stream, needed), up, down, axis=1)
    skip = wanted.start - periods * up
    return np.ascontiguousarray(sound[:, skip : skip + wanted.length], dtype=np.float32)


def _native(path: Path, container: InputContainer, stream: AudioStream, wanted: Span) -> NDArray[np.float32]:
    """The samples of `wanted`, counted from time 0 at the stream's own rate."""
    native_hz = stream.codec_context.sample_rate
    origin_s = origin_of(container)
    start = wanted.start
    sound = np.zeros((stream.codec_context.channels, wanted.length), np.float32)
    target_s = origin_s + Fraction(start, native_hz) - _PRE_ROLL_S
    early = target_s <= origin_s + _PRE_ROLL_S
    if early or container.format.name in UNINDEXED or stream.time_base is None:
        _fill(path, sound, start, _placed(container, stream, origin_s))
        return sound
    grid = None
    if stream.time_base > Fraction(1, native_hz):
        leading = _placed(container, stream, origin_s)
        grid = next((place + frame.samples for place, frame in leading), None)
    container.seek(int(target_s / stream.time_base), stream=stream)
    placed = _placed(container, stream, origin_s, sought=True, grid=grid)
    head = next(placed, None)
    if head is None or head[0] > start:
        # The seek came down late: only the way from the start is sure.
        container.seek(int(origin_s / stream.time_base), stream=stream)
        placed, head = _placed(container, stream, origin_s), None
    _fill(path, sound, start, placed if head is None else chain((head,), placed))
    return sound


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


def _fill(
    path: Path, sound: NDArray[np.float32], start: int, placed: Iterable[tuple[int, AudioFrame]]
) -> None:
    """Copy frames into `sound`, whose first sample is number `start`."""
    end, native_hz = start + sound.shape[1], 0
    for place, frame in placed:
        native_hz = native_hz or frame.sample_rate
        if frame.sample_rate != native_hz or frame.layout.nb_channels != sound.shape[0]:
            raise MediaError(path, "its sampling rate or channels change in the middle; convert it first")
        if place >= end:
            break
        first, last = max(place, start), min(place + frame.samples, end)
        if first < last:
            sound[:, first - start : last - start] = _floats(frame)[:, first - place : last - place]


def _floats(frame: AudioFrame) -> NDArray[np.float32]:
    """The frame's samples as float32 (channels, samples), full scale 1.0."""
    raw: NDArray[Any] = frame.to_ndarray()
    if not frame.format.is_planar:
        raw = raw.reshape(-1, frame.layout.nb_channels).T
    sound = raw.astype(np.float32, copy=False)
    if raw.dtype == np.uint8:
        return sound / np.float32(128) - np.float32(1)
    if raw.dtype.kind == "i":
        return sound / np.float32(1 << (8 * raw.dtype.itemsize - 1))
    return sound
