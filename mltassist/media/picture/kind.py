"""What kind of picture a file holds: a still, a drawn screen or slide, a camera; and whether it stands still.

Plain measures on a few small pictures in colour; nothing is learnt about what they show.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mltassist.media.picture.likeness import unlikeness

_Colours = NDArray[np.uint8]
Grey = NDArray[np.float32]

_LEVELS = 16
"""Steps of each colour channel in which colours are counted."""
_TOP = 4
_SLIGHT = 1.5 / 255
"""Difference of grey below which a pixel is like its neighbours, or like itself a moment later."""
_LEAP = 0.15
"""Difference of grey from which on it is a leap."""
_HUES, _SATURATIONS, _VALUES = 8, 3, 3
_RING = ((-1, -1), (-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1))
_COLOUR_SHARE = 0.6


@dataclass(frozen=True, slots=True)
class Appearance:
    """Measures of a file's pictures, each the median of them, 0 to 1.

    count: how many were seen. few_colours: part of the picture in its four most frequent colours. flat: part
    of its pixels that are like their neighbours. hard: part of the others that leap from one to the next.
    fixed: how alike the pictures are to one another, 1 for one and the same.
    """

    count: int
    few_colours: float
    flat: float
    hard: float
    fixed: float


def appearance(pictures: _Colours) -> Appearance:
    """Measure RGB pictures (n, height, width, 3), in order of time, some 240 pixels wide."""
    greys = [grey_of(picture) for picture in pictures]
    middle = greys[len(greys) // 2]
    alike = [1 - unlikeness(middle, other) for other in greys if other is not middle]
    return Appearance(
        count=len(greys),
        few_colours=float(np.median([few_colours(picture) for picture in pictures])),
        flat=float(np.median([flat(grey) for grey in greys])),
        hard=float(np.median([hard(grey) for grey in greys])),
        fixed=float(np.median(alike)) if alike else 1.0,
    )


def grey_of(picture: _Colours) -> Grey:
    """Luma by ITU-R BT.601, 0 to 1."""
    return np.asarray(picture @ np.array([0.299, 0.587, 0.114], np.float32) / np.float32(255), np.float32)


def few_colours(picture: _Colours) -> float:
    """Part of the picture in its most frequent colours: graphics have few (V. Athitsos and others, 1997)."""
    steps = picture // (256 // _LEVELS)
    codes = (steps[..., 0].astype(np.int32) * _LEVELS + steps[..., 1]) * _LEVELS + steps[..., 2]
    counts = np.sort(np.bincount(codes.reshape(-1)))[::-1]
    return float(counts[:_TOP].sum() / codes.size)


def flat(grey: Grey) -> float:
    """Part of the pixels that differ from those to the right and below by next to nothing."""
    right, down = np.abs(np.diff(grey, axis=1))[:-1], np.abs(np.diff(grey, axis=0))[:, :-1]
    return float(((right < _SLIGHT) & (down < _SLIGHT)).mean())


def hard(grey: Grey) -> float:
    """Part of the pixels with a difference to a neighbour in which it is a leap.

    Graphics go from one colour to the next in one step, what a lens draws in several: the idea of the
    farthest neighbour (V. Athitsos and others, 1997).
    """
    right, down = np.abs(np.diff(grey, axis=1))[:-1], np.abs(np.diff(grey, axis=0))[:, :-1]
    step = np.maximum(right, down)
    differs = step >= _SLIGHT
    return float((step[differs] > _LEAP).mean()) if differs.any() else 0.0


def drawn(seen: Appearance) -> float:
    """How much a picture is a screen or a slide, 0 to 1: hard outlines on a flat ground of few colours.

    Cartoons have shades and soft lines, and what a camera sees in the dark is flat and has few colours, but
    no leaps. The limits were set on the tuning half of the labelled rushes: of 100 differences at least 77
    leaped in screens and slides, at most 45 in drawings, and 14 in what cameras saw.
    """
    colours = np.clip((seen.few_colours - 0.6) / 0.25, 0, 1)
    outlines = np.clip((seen.hard - 0.45) / 0.25, 0, 1)
    return float(seen.flat * outlines * colours)


# --- likeness of two shots ------------------------------------------------------------------------


def signature(picture: _Colours) -> NDArray[np.float32]:
    """Colours and texture of a picture as one histogram (82,), each part of it summing to 1.

    72 colours (8 hues, 3 saturations, 3 values; M. J. Swain and D. H. Ballard, 1991), then the 10 kinds of
    rotation-invariant uniform patterns of a pixel and its 8 neighbours (T. Ojala and others, 2002).
    """
    return np.concatenate([_colour_histogram(picture), _texture_histogram(grey_of(picture))])


def shot_likeness(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    """How alike two signatures are, 0 to 1: the intersection of their histograms, colour before texture."""
    both = np.minimum(one, other)
    colours = _HUES * _SATURATIONS * _VALUES
    return float(_COLOUR_SHARE * both[:colours].sum() + (1 - _COLOUR_SHARE) * both[colours:].sum())


def _colour_histogram(picture: _Colours) -> NDArray[np.float32]:
    rgb = picture.reshape(-1, 3).astype(np.float32) / 255
    high, low = rgb.max(axis=1), rgb.min(axis=1)
    spread = np.maximum(high - low, 1e-6)
    top = rgb.argmax(axis=1)
    ahead = np.take_along_axis(rgb, ((top + 1) % 3)[:, None], 1)[:, 0]
    behind = np.take_along_axis(rgb, ((top + 2) % 3)[:, None], 1)[:, 0]
    hue = ((top * 2 + (ahead - behind) / spread) / 6) % 1
    saturation = (high - low) / np.maximum(high, 1e-6)
    codes = np.minimum((hue * _HUES).astype(int), _HUES - 1) * _SATURATIONS
    codes = (codes + np.minimum((saturation * _SATURATIONS).astype(int), _SATURATIONS - 1)) * _VALUES
    codes += np.minimum((high * _VALUES).astype(int), _VALUES - 1)
    counts = np.bincount(codes, minlength=_HUES * _SATURATIONS * _VALUES)
    return np.asarray(counts / codes.size, np.float32)


def _texture_histogram(grey: Grey) -> NDArray[np.float32]:
    inner = grey[1:-1, 1:-1]
    height, width = inner.shape
    ring = np.stack(
        [grey[1 + y : 1 + y + height, 1 + x : 1 + x + width] >= inner + 1 / 255 for y, x in _RING]
    )
    changes = (ring != np.roll(ring, 1, axis=0)).sum(axis=0)
    codes = np.where(changes <= 2, ring.sum(axis=0), 9)
    return np.asarray(np.bincount(codes.reshape(-1), minlength=10) / codes.size, np.float32)
