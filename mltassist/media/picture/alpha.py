"""Whether a picture is transparent anywhere: told by its format, then looked at."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.media.cache import Analysis, remembered
from mltassist.media.opening import open_media, ordinary_media

if TYPE_CHECKING:
    from av.video.codeccontext import VideoCodecContext
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

SEEN = 250
"""An opacity of so much in 255 and more looks whole: what is scaled and compressed loses some."""
SOME = 0.005
"""Less of the picture than this is an edge, or a rounded corner."""
_LOOKS = 5
"""Pictures of a film that are looked at, from its beginning to its end."""
_DRAWN = (".svg", ".svgz")
"""Drawings have no pixels of their own; what of them is not drawn is transparent."""


def transparent_share(path: Path) -> tuple[float, float]:
    """How much of the picture lets anything through, and how much of it is not seen at all, 0 to 1.

    Of a film the most of some of its pictures for the first, the least for the second. Remembered.
    Raises SourceMissing when there is no file, MediaError when it cannot be read.
    """
    ordinary_media(path)
    if path.suffix.lower() in _DRAWN:
        return 1.0, 0.0
    shares = remembered(path, Analysis("alpha", 1), lambda: {"shares": _looked_at(path)})["shares"]
    return float(shares[0]), float(shares[1])


def _looked_at(path: Path) -> NDArray[np.float64]:
    import av  # noqa: PLC0415 - heavy, and not wanted where everything is in the cache

    found: list[tuple[float, float]] = []
    try:
        with open_media(path) as container:
            stream = next(iter(container.streams.video), None)
            if stream is None or not _has_alpha(stream):
                return np.zeros(2)
            span = container.duration or 0
            for look in range(_LOOKS):
                if look:
                    container.seek(span * look // _LOOKS)
                frame = next(container.decode(stream), None)
                if frame is not None:
                    found.append(_shares(frame))
                if not span:
                    break
    except MediaError:
        raise
    except (av.FFmpegError, OSError, ValueError) as problem:
        raise MediaError(path, f"its picture cannot be read ({problem})") from problem
    if not found:
        return np.zeros(2)
    return np.array([max(thin for thin, _ in found), min(gone for _, gone in found)])


def _has_alpha(stream: VideoStream) -> bool:
    """True for a format with opacity; a palette may hold transparent colours."""
    context: VideoCodecContext | None = stream.codec_context  # none where the codec is unknown
    pixels = context.format if context is not None else None
    return pixels is not None and (pixels.has_palette or any(part.is_alpha for part in pixels.components))


def _shares(frame: VideoFrame) -> tuple[float, float]:
    alpha = frame.to_ndarray(format="rgba")[..., 3]
    return float(np.mean(alpha < SEEN)), float(np.mean(alpha == 0))
