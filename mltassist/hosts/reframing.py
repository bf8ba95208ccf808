"""How filters move and size the picture of a clip: whether it fills the frame still, and how large it is."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from lxml.etree import _Element as Element

from mltassist.document import keyframes, properties
from mltassist.document.rectangles import Rectangle, rectangle
from mltassist.errors import TimeError
from mltassist.hosts.levels import filters
from mltassist.hosts.parts import Parts

_PLACING = ("affine", "qtblend")
"""Filters that put the picture into a rectangle of the frame."""
_RECTANGLES = ("transition.rect", "transition.geometry", "rect", "geometry")
_OTHERS = ("crop", "qtcrop", "rotoscoping", "mask_start", "frei0r.alphaspot")
"""Filters that leave out parts of the picture."""
_TURNING = ("rotation", "transition.fix_rotate_x", "transition.fix_rotate_y", "transition.fix_rotate_z")


@dataclass(frozen=True, slots=True)
class Framing:
    """reframed: what lies beneath may be seen. zoom: enlargement at the clip's first and last frame."""

    reframed: bool = False
    zoom: tuple[Fraction, Fraction] = (Fraction(1), Fraction(1))


WHOLE_FRAME = Framing()
"""Of a clip without filters."""


def framing(parts: Parts, filtered: Iterable[Element]) -> Framing:
    """What the filters on these parts do to the picture.

    A picture that is enlarged and still fills the frame hides what lies beneath as before; one that is
    cropped, turned, moved or made smaller does not.
    """
    width, height = parts.document.width, parts.document.height
    reframed, first, last = False, Fraction(1), Fraction(1)
    if not width or not height:
        return WHOLE_FRAME
    for element in (found for part in filtered for found in filters(part)):
        service = properties.get(element, "mlt_service") or ""
        if service in _OTHERS:
            reframed = True
        elif service in _PLACING:
            placed = _rectangles(parts, element, width, height)
            # Opacity, which may change in a clip, is told by its veil (hosts/veils.py).
            filling = (one._replace(opacity=Fraction(1)).fills(width, height) for one in placed)
            if not placed or _turns(element) or not all(filling):
                reframed = True
            else:
                first, last = first * placed[0].width / width, last * placed[-1].width / width
    return Framing(reframed, (first, last))


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
    found = (properties.get(element, name) for name in _TURNING)
    return any(re.search(r"[1-9]", re.sub(r"[^;=]*=", "", text)) for text in found if text)
