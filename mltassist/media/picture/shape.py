"""What shape a picture has as it is shown: turned as its file says, its pixels as wide as they are."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Rate, Span
from mltassist.media.cache import Analysis, remembered
from mltassist.media.picture.thumbnails import each_frame
from mltassist.media.probe import probe


class Size(NamedTuple):
    """Pixels of a picture, upright, and their width by their height."""

    width: int
    height: int
    pixel_aspect: Fraction = Fraction(1)

    @property
    def shape(self) -> Fraction:
        """Width by height as it is shown; 0 where it has no picture."""
        return self.width * self.pixel_aspect / max(1, self.height)


def shape_of(path: Path) -> Fraction:
    """Width by height of a picture: of one that moves by its headers, of a still by decoding it.

    Raises SourceMissing when there is no file, MediaError when it has no picture or cannot be read.
    """
    return size_of(path).shape


def size_of(path: Path, pixel_aspect: Fraction | None = None, turned: int | None = None) -> Size:
    """The size of a picture. Where a document overrules the file it says how wide pixels are, and how turned.

    The engine turns nothing but what moves (measured on melt 7.12). Raises as `shape_of` does.
    """
    facts = probe(path)
    if facts.frame_rate is None:  # how a photograph is turned, no reader of headers tells
        width, height = remembered(path, Analysis("shape", 1), lambda: {"size": _size(path)})["size"].tolist()
        return Size(width, height, pixel_aspect or Fraction(1))
    own = pixel_aspect or facts.pixel_aspect
    if (facts.rotation if turned is None else turned) % 180 == 0:
        return Size(facts.width, facts.height, own)
    return Size(facts.height, facts.width, 1 / own if own else own)


def _size(path: Path) -> NDArray[np.int64]:
    """Width and height of a still in pixels, upright."""
    _, _, picture = next(each_frame(path, Span(0, 1), Rate(25)))
    turned = round(float(getattr(picture, "rotation", 0) or 0)) % 180 == 90
    size = (picture.height, picture.width) if turned else (picture.width, picture.height)
    return np.array(size, np.int64)
