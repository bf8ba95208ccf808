"""How filters move and size the picture of a clip: whether it fills the frame still, and how large it is."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from lxml.etree import _Element as Element

from mltassist.document import keyframes, properties
from mltassist.document.values import number
from mltassist.errors import TimeError
from mltassist.hosts.levels import filters
from mltassist.hosts.parts import Parts

_PLACING = ("affine", "qtblend")
"""Filters that put the picture into a rectangle of the frame."""
_RECTANGLES = ("transition.rect", "transition.geometry", "rect", "geometry")
_OTHERS = ("crop", "qtcrop", "rotoscoping", "mask_start", "frei0r.alphaspot")
"""Filters that leave out parts of the picture."""
_TURNING = ("rotation", "transition.fix_rotate_x", "transition.fix_rotate_y", "transition.fix_rotate_z")
_OLD = re.compile(r"(-?[\d.]+%?)[/,](-?[\d.]+%?):([\d.]+%?)x([\d.]+%?)(?::([\d.]+%?))?")


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
            if not placed or _turns(element) or not all(_fills(one, width, height) for one in placed):
                reframed = True
            else:
                first, last = first * placed[0][2] / width, last * placed[-1][2] / width
    return Framing(reframed, (first, last))


_Rectangle = tuple[Fraction, Fraction, Fraction, Fraction, Fraction]
"""Left, top, width, height in pixels; opacity, 1 whole."""


def _rectangles(parts: Parts, element: Element, width: int, height: int) -> tuple[_Rectangle, ...]:
    """The rectangle at each key; none where one cannot be read."""
    text = next((value for name in _RECTANGLES if (value := properties.get(element, name))), "")
    try:
        values = (
            [key.value for key in keyframes.parse(text, parts.rate)]
            if keyframes.is_animated(text)
            else [text]
        )
        return tuple(_rectangle(value, width, height) for value in values)
    except (TimeError, ValueError):
        return ()


def _rectangle(text: str, width: int, height: int) -> _Rectangle:
    old = _OLD.fullmatch(text.strip())
    words = [word for word in old.groups() if word] if old else text.replace(",", " ").split()
    if len(words) not in (4, 5):
        raise ValueError(text)
    wholes = (width, height, width, height)
    left, top, wide, high = (_measure(word, whole) for word, whole in zip(words, wholes, strict=False))
    opacity = _measure(words[4], 1) if len(words) == 5 else Fraction(1)
    # The older form counts opacity to a hundred.
    return (
        left,
        top,
        wide,
        high,
        opacity / 100 if old and len(words) == 5 and "%" not in words[4] else opacity,
    )


def _measure(word: str, whole: int) -> Fraction:
    value = number(word.removesuffix("%"))
    if value is None:
        raise ValueError(word)
    return value * whole / 100 if word.endswith("%") else value


def _fills(one: _Rectangle, width: int, height: int) -> bool:
    left, top, wide, high, opacity = one
    return left <= 0 and top <= 0 and left + wide >= width and top + high >= height and opacity >= 1


def _turns(element: Element) -> bool:
    found = (properties.get(element, name) for name in _TURNING)
    return any(re.search(r"[1-9]", re.sub(r"[^;=]*=", "", text)) for text in found if text)
