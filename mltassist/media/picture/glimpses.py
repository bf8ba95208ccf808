"""A few pictures of a file in colour, small, from places spread over it: a look and no more.

Only pictures that are stored whole are decoded, one for each place, so that a file of hours takes no longer
than one of minutes.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.media.opening import open_media, ordinary_media
from mltassist.media.picture.thumbnails import is_still

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

SIDE = 240
"""Longer side in pixels: text of a screen still has edges, and a face is still one."""
_EDGE = Fraction(1, 20)
"""Head and tail that are left out: hands on the camera, black."""

_Colours = NDArray[np.uint8]
"""RGB, shape (n, height, width, 3)."""


def glimpses(path: Path, count: int) -> tuple[_Colours, NDArray[np.float64]]:
    """Up to `count` pictures spread over the file, and their times in seconds; fewer where it holds fewer.

    Raises SourceMissing when there is no file, MediaError when it has no picture that can be decoded.
    """
    ordinary_media(path)
    import av  # noqa: PLC0415 - heavy, and not wanted where everything is in the cache

    try:
        with open_media(path) as container:
            if not container.streams.video:
                raise MediaError(path, "it has no picture; use a clip with picture")
            stream = container.streams.video[0]
            stream.thread_type = "AUTO"
            found = dict(_each(container, stream, count))
    except av.error.FFmpegError as problem:
        raise MediaError(path, f"it cannot be decoded ({problem.strerror}); check that it plays") from problem
    if not found:
        raise MediaError(path, "its picture cannot be decoded; check that it opens")
    shape = next(iter(found.values())).shape
    kept = {time_s: picture for time_s, picture in found.items() if picture.shape == shape}
    return np.stack(list(kept.values())), np.array(list(kept), np.float64)


def _each(container: InputContainer, stream: VideoStream, count: int) -> Iterator[tuple[float, _Colours]]:
    base, length = stream.time_base, stream.duration
    if base is None or not length:
        whole = (container.duration or 0) / 1_000_000
        length = int(whole / base) if base else 0
    if is_still(container) or not length or base is None or count < 2:
        if (frame := next(container.decode(stream), None)) is not None:
            yield 0.0, _small(frame)
        return
    first = stream.start_time or 0
    last: int | None = None
    for number in range(count):
        place = _EDGE + (1 - 2 * _EDGE) * Fraction(number, count - 1)
        container.seek(first + int(length * place), stream=stream)
        frame = _next_whole(container, stream)
        if frame is None or frame.pts is None or frame.pts == last:
            continue
        last = frame.pts
        yield float((frame.pts - first) * base), _small(frame)


def _next_whole(container: InputContainer, stream: VideoStream) -> VideoFrame | None:
    import av  # noqa: PLC0415 - see glimpses

    for packet in container.demux(stream):
        try:
            frames = packet.decode()
        except av.error.InvalidDataError:
            continue
        if frames:
            return frames[0]
    return None


def _small(frame: VideoFrame) -> _Colours:
    from av.video.reformatter import Interpolation  # noqa: PLC0415 - see glimpses

    longer = max(frame.width, frame.height)
    width, height = frame.width, frame.height
    if longer > SIDE:
        width, height = max(2, width * SIDE // longer), max(2, height * SIDE // longer)
    small = frame.reformat(width, height, "rgb24", interpolation=Interpolation.AREA)
    return np.asarray(small.to_ndarray(), np.uint8)
