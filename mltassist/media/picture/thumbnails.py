"""Pictures out of media files: small, grey, and at the frame numbers of the project.

Time 0 is the start of the container's timeline, as for sound. Where the file has another frame rate than
the project, frame n of the project shows the file's picture that is nearest to its time, n / rate, as
the engine plays it; a picture of variable rate is held until the next one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.frames import Rate, Span
from mltassist.media.opening import open_media, ordinary_media, path_of
from mltassist.media.sound.streams import origin_of

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

Picture = NDArray[np.float32]

# Enough to compare two pictures by; the longer side, in pixels.
THUMBNAIL_SIDE = 160
# A seek may come down after the picture wanted; then it is tried this much earlier, in seconds.
_SEEK_BACK_S = (0, 2, 10)


@dataclass(frozen=True, slots=True)
class Thumbnails:
    """Grey pictures, float32 (n, height, width) from 0 (black) to 1 (white), as stored: not rotated.

    `frames` (n,) are their frame numbers at the project's rate, rising.
    """

    frames: NDArray[np.int64]
    pictures: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Shown:
    """One picture of the file, the frames of the project that show it, and its own exact `place`.

    `place` is its time in frames of the project, a fraction where the rates differ.
    """

    frames: Span
    place: Fraction
    picture: Picture


def read_thumbnails(
    path: Path,
    frames: Span,
    rate: Rate,
    *,
    step: int = 1,
    keyframes_only: bool = False,
    side: int = THUMBNAIL_SIDE,
) -> Thumbnails:
    """The pictures at every `step`-th of `frames`, their longer side at most `side` pixels.

    With `keyframes_only` (a coarse, quick pass) only pictures stored whole are decoded: those shown first
    within `frames`, at least `step` frames apart, each under the first frame that shows it. Frames past
    the last picture are left out, and a still image gives one picture, under the first of `frames`.

    Raises SourceMissing when there is no file, MediaError when it has no picture in `frames` or cannot
    be read.
    """
    numbers: list[int] = []
    pictures: list[Picture] = []
    for shown in each_picture(path, frames, rate, step=step, keyframes_only=keyframes_only, side=side):
        if keyframes_only:
            wanted = range(shown.frames.start, shown.frames.start + 1)
        else:
            wanted = range(_on_step(shown.frames.start, frames.start, step), shown.frames.end, step)
        numbers.extend(wanted)
        pictures.extend([shown.picture] * len(wanted))
    if not numbers:
        raise _nothing_there(path, frames)
    if any(picture.shape != pictures[0].shape for picture in pictures):
        raise MediaError(path, "its picture size changes in the middle; convert it first")
    return Thumbnails(np.array(numbers, np.int64), np.stack(pictures))


def picture_at(path: Path, frame: int, rate: Rate, *, side: int = THUMBNAIL_SIDE) -> Picture:
    """The one picture shown at `frame`: float32 (height, width), 0 to 1. Raises as `read_thumbnails`."""
    return np.asarray(read_thumbnails(path, Span(frame, frame + 1), rate, side=side).pictures[0])


def each_picture(
    path: Path,
    frames: Span,
    rate: Rate,
    *,
    step: int = 1,
    keyframes_only: bool = False,
    side: int = THUMBNAIL_SIDE,
) -> Iterator[Shown]:
    """Each picture of the file that one of every `step`-th of `frames` shows, once and in order.

    One picture at a time is held, so `frames` may be long. Raises as `read_thumbnails`, but gives
    nothing when no picture lies in `frames`.
    """
    for inside, place, frame in each_frame(path, frames, rate, step=step, keyframes_only=keyframes_only):
        yield Shown(inside, place, _small_grey(frame, side))


def each_frame(
    path: Path, frames: Span, rate: Rate, *, step: int = 1, keyframes_only: bool = False
) -> Iterator[tuple[Span, Fraction, VideoFrame]]:
    """The same as decoded, in its own size and colours: the frames that show it, its place, the picture."""
    ordinary_media(path)
    import av  # noqa: PLC0415 - heavy, and not wanted where everything is in the cache

    try:
        with open_media(path) as container:
            stream = _picture_stream(path, container)
            if is_still(container):
                still = next(_decoded(container, stream), None)
                if still is None:
                    raise MediaError(path, "its picture cannot be decoded; check that it opens")
                yield Span(frames.start, frames.start + 1), Fraction(0), still
                return
            apart = step if keyframes_only else 0
            for shown, place, frame in _placed(container, stream, frames, rate, apart):
                inside = shown.shared(frames)
                if keyframes_only and shown.start not in frames:
                    continue
                if keyframes_only or _on_step(inside.start, frames.start, step) < inside.end:
                    yield inside, place, frame
    except av.error.FFmpegError as problem:
        raise MediaError(path, f"it cannot be decoded ({problem.strerror}); check that it plays") from problem


def _nothing_there(path: Path, frames: Span) -> MediaError:
    what = f"it has no picture between frames {frames.start} and {frames.end}; check the length of the clip"
    return MediaError(path, what)


def _on_step(frame: int, origin: int, step: int) -> int:
    """The first frame at or after `frame` that lies a whole number of steps from `origin`."""
    return origin + -(-(frame - origin) // step) * step


def _picture_stream(path: Path, container: InputContainer) -> VideoStream:
    from av.stream import Disposition  # noqa: PLC0415 - see each_frame

    for stream in container.streams.video:
        # The cover of a song is no picture of a clip.
        known = getattr(stream, "codec_context", None) is not None
        if known and not stream.disposition & Disposition.attached_pic:
            stream.thread_type = "AUTO"
            return stream
    raise MediaError(path, "it has no picture; use a clip with picture")


def is_still(container: InputContainer) -> bool:
    """True for a file that holds one picture."""
    return container.format.name == "image2" or container.format.name.endswith("_pipe")


def _placed(
    container: InputContainer, stream: VideoStream, wanted: Span, rate: Rate, apart: int
) -> Iterator[tuple[Span, Fraction, VideoFrame]]:
    """Decoded pictures, the frames that show them and their places, from the first in `wanted` on.

    The first picture is taken to be shown from the beginning of `wanted`.
    """
    length_s = 1 / (stream.average_rate or rate.fraction)
    origin_s = origin_of(container)

    def first_shown(time_s: Fraction) -> int:
        return max(0, ceil((time_s - origin_s - length_s / 2) * rate.fraction))

    held: tuple[int, Fraction, VideoFrame] | None = None
    wanted_s = origin_s + rate.seconds(wanted.start)
    for time_s, frame in _reaching(container, stream, wanted_s, length_s, rate.seconds(apart)):
        start = first_shown(time_s)
        if held is None:
            start = start if apart else min(start, wanted.start)
        else:
            # Pictures faster than the project's: some are shown by no frame.
            if start > max(held[0], wanted.start):
                yield Span(held[0], start), held[1], held[2]
            if start >= wanted.end:
                return
        held = start, (time_s - origin_s) * rate.fraction, frame
    if held is not None:
        # The last one stays until its own time is over.
        start, place, frame = held
        stays_s = max(length_s, (frame.duration or 0) * (stream.time_base or 0))
        end = ceil(place + stays_s * rate.fraction)
        if end > max(start, wanted.start):
            yield Span(start, end), place, frame


def _reaching(
    container: InputContainer, stream: VideoStream, wanted_s: Fraction, length_s: Fraction, apart_s: Fraction
) -> Iterator[tuple[Fraction, VideoFrame]]:
    """Decoded pictures with their time stamps, from one not later than `wanted_s` on."""
    time_base, start = stream.time_base, stream.start_time
    if time_base is None or start is None or _unstamped(container, stream):
        yield from _stamped(container, stream, length_s, apart_s)
        return
    sought = False
    for back_s in _SEEK_BACK_S:
        target = int((wanted_s - length_s - back_s) / time_base)
        if target <= start:
            break
        container.seek(target, stream=stream)
        sought = True
        stamped = _stamped(container, stream, length_s, apart_s)
        # Pictures before the first whole one lean on pictures that were not read.
        head = next(((time_s, frame) for time_s, frame in stamped if frame.key_frame), None)
        if head is not None and head[0] <= wanted_s + length_s / 2:
            yield head
            yield from stamped
            return
    if not sought:
        yield from _stamped(container, stream, length_s, apart_s)
        return
    # Only the way from the start is sure; a seek to the start may come down late as well.
    path = path_of(container)
    with open_media(path) as again:
        yield from _stamped(again, _picture_stream(path, again), length_s, apart_s)


def _unstamped(container: InputContainer, stream: VideoStream) -> bool:
    """True for AVI with pictures out of order: its stamps are those of decoding, so pictures are counted."""
    return container.format.name == "avi" and bool(stream.codec_context.has_b_frames)


def _stamped(
    container: InputContainer, stream: VideoStream, length_s: Fraction, apart_s: Fraction
) -> Iterator[tuple[Fraction, VideoFrame]]:
    """Decoded pictures with their time stamps; one without a stamp follows the last by `length_s`."""
    counted = _unstamped(container, stream)
    time_base = stream.time_base or length_s
    time_s = (stream.start_time or 0) * time_base - length_s
    for frame in _decoded(container, stream, Fraction(0) if counted else apart_s):
        time_s = time_s + length_s if counted or frame.pts is None else frame.pts * time_base
        if frame.key_frame or not apart_s:
            yield time_s, frame


def _decoded(
    container: InputContainer, stream: VideoStream, apart_s: Fraction = Fraction(0)
) -> Iterator[VideoFrame]:
    """All pictures from here on; a damaged packet is passed over, as players do.

    With `apart_s` only pictures stored whole and at least that far from the one before are decoded;
    some codecs store no others.
    """
    import av  # noqa: PLC0415 - see each_frame

    last: int | None = None
    apart = apart_s / (stream.time_base or 1)
    for packet in container.demux(stream):
        # The last packet is empty: it brings out what the decoder still holds.
        if apart and packet.size:
            near = last is not None and packet.pts is not None and 0 <= packet.pts - last < apart
            if near or not packet.is_keyframe:
                continue
            last = packet.pts
        try:
            yield from packet.decode()
        except av.error.InvalidDataError:
            continue


def _small_grey(frame: VideoFrame, side: int) -> Picture:
    """The picture in grey, 0 to 1, made smaller where its longer side is over `side` pixels."""
    from av.video.reformatter import Interpolation  # noqa: PLC0415 - see each_frame

    longer = max(frame.width, frame.height)
    width, height = frame.width, frame.height
    if longer > side:
        width, height = max(1, width * side // longer), max(1, height * side // longer)
    grey = frame.reformat(width, height, "gray", interpolation=Interpolation.AREA).to_ndarray()
    return grey.astype(np.float32) / np.float32(255)
