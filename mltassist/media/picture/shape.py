"""What shape a picture has as it is shown: turned as its file says, its pixels as wide as they are."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Rate, Span
from mltassist.media.cache import Analysis, remembered
from mltassist.media.picture.thumbnails import each_frame
from mltassist.media.probe import probe


def shape_of(path: Path) -> Fraction:
    """Width by height of a picture: of one that moves by its headers, of a still by decoding it.

    Raises SourceMissing when there is no file, MediaError when it has no picture or cannot be read.
    """
    facts = probe(path)
    if facts.frame_rate is None:  # how a photograph is turned, no reader of headers tells
        width, height = remembered(path, Analysis("shape", 1), lambda: {"size": _size(path)})["size"].tolist()
        return Fraction(width, height)
    shape = facts.width * facts.pixel_aspect / max(1, facts.height)
    return shape if not shape or facts.rotation % 180 == 0 else 1 / shape


def _size(path: Path) -> NDArray[np.int64]:
    """Width and height of a still in pixels, upright."""
    _, _, picture = next(each_frame(path, Span(0, 1), Rate(25)))
    turned = round(float(getattr(picture, "rotation", 0) or 0)) % 180 == 90
    size = (picture.height, picture.width) if turned else (picture.width, picture.height)
    return np.array(size, np.int64)
