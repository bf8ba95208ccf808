"""Small pictures in colour, to be looked at: JPEG files of single frames, remembered between runs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.frames import Rate, Span
from mltassist.media.cache import Analysis, remembered
from mltassist.media.picture.thumbnails import each_frame

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

TOGETHER_S = 3
"""Frames no further apart are decoded in one go: about as long as files go without a whole picture."""
QUALITY = 5
"""Of the encoder, 1 (best) to 31: what is lost cannot be seen in pictures so small (judged by eye)."""
_MOST_RATIO = 4
"""A picture wider or higher than this is made no narrower for it."""


def stills(path: Path, frames: Iterable[int], rate: Rate, *, side: int) -> Mapping[int, bytes]:
    """Pictures of a file as JPEG, by frame number at the project's rate; the longer side has `side` pixels.

    A frame that the file does not have is left out. Turned upright as the file says. Raises SourceMissing
    when there is no file, MediaError when it has no picture or cannot be read.
    """
    wanted = sorted(set(frames))
    made: dict[int, bytes] = {}
    found: dict[int, bytes] = {}

    def compute(number: int) -> dict[str, NDArray[np.uint8]]:
        if number not in made:
            made.update(_decoded(path, _near(wanted, number, rate), rate, side))
        return {"jpeg": np.frombuffer(made.get(number, b""), np.uint8)}

    for number in wanted:
        parameters = (("frame", number), ("rate", str(rate.fraction)), ("side", side))
        kept = remembered(path, Analysis("still", 1, parameters), lambda number=number: compute(number))  # type: ignore[misc]
        if kept["jpeg"].size:
            found[number] = kept["jpeg"].tobytes()
    return found


def _near(wanted: list[int], first: int, rate: Rate) -> list[int]:
    """This frame, and those after it that are reached by decoding on."""
    near, apart = [first], rate.frames(TOGETHER_S)
    for number in wanted:
        if near[-1] < number <= near[-1] + apart:
            near.append(number)
    return near


def _decoded(path: Path, wanted: list[int], rate: Rate, side: int) -> dict[int, bytes]:
    found: dict[int, bytes] = {}
    left = list(wanted)
    for shown, _, picture in each_frame(path, Span(wanted[0], wanted[-1] + 1), rate):
        here = [number for number in left if number in shown]
        if here:
            found.update(dict.fromkeys(here, jpeg(picture, side)))
            left = [number for number in left if number not in here]
        if not left:
            break
    return found


def jpeg(picture: VideoFrame, side: int) -> bytes:
    """A decoded picture as JPEG, upright, its longer side at most `side` pixels."""
    import av  # noqa: PLC0415 - heavy, and not wanted where everything is remembered
    from av.video.reformatter import ColorRange, Interpolation  # noqa: PLC0415

    width, height = _size(picture, side)
    small = picture.reformat(width, height, "rgb24", interpolation=Interpolation.AREA)
    turns = round(float(getattr(picture, "rotation", 0) or 0) / 90) % 4
    upright = np.ascontiguousarray(np.rot90(small.to_ndarray(), turns), np.uint8)
    frame = av.VideoFrame.from_ndarray(upright, "rgb24").reformat(
        format="yuvj420p", dst_color_range=ColorRange.JPEG
    )
    encoder = av.CodecContext.create("mjpeg", "w")
    encoder.width, encoder.height = frame.width, frame.height
    encoder.pix_fmt, encoder.time_base = "yuvj420p", Fraction(1, 25)
    encoder.qmin = encoder.qmax = QUALITY
    try:
        frame.pts = 0
        return b"".join(bytes(packet) for packet in [*encoder.encode(frame), *encoder.encode(None)])
    except av.error.FFmpegError as problem:
        raise MediaError("picture", f"it cannot be made smaller ({problem.strerror})") from problem


def _size(picture: VideoFrame, side: int) -> tuple[int, int]:
    """Whole even pixels for a picture of the shape in which it is shown."""
    shape = picture.sample_aspect_ratio if hasattr(picture, "sample_aspect_ratio") else None
    ratio = Fraction(picture.width, picture.height) * (shape or 1)
    ratio = min(max(ratio, Fraction(1, _MOST_RATIO)), Fraction(_MOST_RATIO))
    longer = min(side, max(picture.width, picture.height))
    width, height = (longer, longer / ratio) if ratio >= 1 else (longer * ratio, longer)
    return max(2, round(width / 2) * 2), max(2, round(height / 2) * 2)
