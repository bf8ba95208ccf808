"""How filters move and size the picture of a clip: whether it fills the frame still, and how large it is."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from lxml.etree import _Element as Element

from mltassist.document import keyframes, properties
from mltassist.document.rectangles import Rectangle, rectangle
from mltassist.document.values import number
from mltassist.errors import TimeError
from mltassist.hosts.levels import filters
from mltassist.hosts.parts import Parts
from mltassist.timeline.model import FILM_SHAPE, Shapes

_PLACING = ("affine", "qtblend")
"""Filters that put the picture into a rectangle of the frame."""
_RECTANGLES = ("transition.rect", "transition.geometry", "rect", "geometry")
_OWN_NAMES = ("rect", "transition.rect")
"""Properties of a rectangle that the engine obeys (measured on melt 7.12); older ones obeyed the rest."""
_OTHERS = ("crop", "qtcrop", "rotoscoping", "mask_start", "frei0r.alphaspot")
"""Filters that leave out parts of the picture."""
_TURNING = (
    "rotation",
    *(
        f"transition.{way}_{axis}"
        for way in ("fix_rotate", "rotate", "fix_shear", "shear")
        for axis in ("x", "y", "z")
    ),
    "transition.ox",
    "transition.oy",
)
"""Properties that turn, shear or shift a picture within its rectangle; 0 of one that does not."""
_SCALING = ("transition.scale_x", "transition.scale_y", "transition.fill")
"""Properties that are 1 where the picture is as large as its rectangle."""
_ALIGNING = ("transition.halign", "transition.valign")
_MIDDLE = ("", "c", "m", "center", "centre", "middle", "1")


@dataclass(frozen=True, slots=True)
class Framing:
    """reframed: what lies beneath may be seen. zoom: enlargement at the clip's first and last frame.

    fills: the shapes of pictures that fill the frame.
    """

    reframed: bool = False
    zoom: tuple[Fraction, Fraction] = (Fraction(1), Fraction(1))
    fills: Shapes = FILM_SHAPE


_ANY_SHAPE = (Fraction(0), Fraction(10**6))
WHOLE_FRAME = Framing()
"""Of a clip without filters."""


def framing(parts: Parts, filtered: Iterable[Element]) -> Framing:
    """What the filters on these parts do to the picture.

    A picture that is enlarged and still fills the frame hides what lies beneath as before; one that is
    cropped, turned, moved or made smaller does not.
    """
    width, height = parts.document.width, parts.document.height
    reframed, first, last = False, Fraction(1), Fraction(1)
    fills: Shapes | None = None
    if not width or not height:
        return WHOLE_FRAME
    for part, element in ((home, found) for home in filtered for found in filters(home)):
        service = properties.get(element, "mlt_service") or ""
        if service in _OTHERS:
            reframed = True
        elif service in _PLACING:
            placed = _rectangles(parts, element, width, height)
            # Opacity, which may change in a clip, is told by its veil (hosts/veils.py).
            filling = (one._replace(opacity=Fraction(1)).fills(width, height) for one in placed)
            if not placed or _turns(element) or not all(filling):
                reframed = True
            elif any(properties.get(element, name) for name in _OWN_NAMES):
                first, last = first * placed[0].width / width, last * placed[-1].width / width
                if fills is None:  # those after it get a whole frame
                    lasts = _lasts(parts, part, element)
                    fills = _fills(element, placed, (width, height)) if lasts else FILM_SHAPE
    return Framing(reframed, (first, last), fills or FILM_SHAPE)


def _fills(element: Element, placed: tuple[Rectangle, ...], frame: tuple[int, int]) -> Shapes:
    """The shapes, by the film's, of pictures that fill the frame from within these rectangles.

    A picture lies as large as its shape allows about the middle of its rectangle, unless it is stretched.
    """
    if any((properties.get(element, name) or "0") != "0" for name in ("distort", "transition.distort")):
        return _ANY_SHAPE
    width, height = frame
    aligned = all((properties.get(element, name) or "").strip() in _MIDDLE for name in _ALIGNING)
    if not aligned:
        return FILM_SHAPE
    narrow, wide = FILM_SHAPE[0] * 0, _ANY_SHAPE[1]
    for one in placed:
        left, right = one.left / width, (one.left + one.width) / width
        top, bottom = one.top / height, (one.top + one.height) / height
        # As far from the middle of the rectangle as the farther edge of the frame is.
        across = max((left + right) / 2, 1 - (left + right) / 2) * 2
        down = max((top + bottom) / 2, 1 - (top + bottom) / 2) * 2
        narrow = max(narrow, across / (bottom - top))
        wide = min(wide, (right - left) / down)
    return (narrow, wide) if narrow <= wide else FILM_SHAPE


def _lasts(parts: Parts, part: Element, element: Element) -> bool:
    """True for a filter that acts from the first frame of what it hangs on to the last."""
    first, out = parts.frames(element.get("in")), element.get("out")
    last = parts.frames(out) if out else 0
    if (first, last) == (0, 0):
        return True
    begins, ends = parts.frames(part.get("in")), part.get("out")
    return first <= begins and (not out or (ends is not None and last >= parts.frames(ends)))


def _rectangles(parts: Parts, element: Element, width: int, height: int) -> tuple[Rectangle, ...]:
    """The rectangle at each key; none where one cannot be read."""
    text = next((value for name in _RECTANGLES if (value := properties.get(element, name))), "")
    try:
        values = (
            [key.value for key in keyframes.parse(text, parts.rate)]
            if keyframes.is_animated(text)
            else [text]
        )
        return tuple(rectangle(value, width, height) for value in values)
    except (TimeError, ValueError):
        return ()


def _turns(element: Element) -> bool:
    """True for one that turns the picture, shifts it within its rectangle, or makes it smaller than that."""
    found = (properties.get(element, name) for name in _TURNING)
    if any(re.search(r"[1-9]", re.sub(r"[^;=]*=", "", text)) for text in found if text):
        return True
    sizes = (properties.get(element, name) for name in _SCALING)
    return any(number(re.sub(r"[^;=]*=", "", text)) != 1 for text in sizes if text)
