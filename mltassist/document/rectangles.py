"""Rectangles of the frame as the engine reads them from text: ``left top width height opacity``."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple

from mltassist.document.values import number

_OLD = re.compile(r"(-?[\d.]+%?)[/,](-?[\d.]+%?):([\d.]+%?)x([\d.]+%?)(?::([\d.]+%?))?")


class Rectangle(NamedTuple):
    """left, top, width, height: pixels. opacity: 1 whole."""

    left: Fraction
    top: Fraction
    width: Fraction
    height: Fraction
    opacity: Fraction

    def fills(self, width: int, height: int) -> bool:
        """True when nothing of a frame of this size shows beneath."""
        wide, high = self.left + self.width >= width, self.top + self.height >= height
        return self.left <= 0 and self.top <= 0 and wide and high and self.opacity >= 1


UNTOLD = {"qtblend": 0}
"""The opacity of a rectangle that tells none, by service; 1 for all others (measured on melt 7.12)."""


def rectangle(text: str, width: int, height: int, *, opacity: int = 1) -> Rectangle:
    """A rectangle in pixels, or shares, of a frame of this size. Raises ValueError for anything else.

    opacity: what it has where the text tells none.

    >>> [int(number) for number in rectangle("0/-440:100%x1080:100", 1920, 1080)]
    [0, -440, 1920, 1080, 1]
    """
    old = _OLD.fullmatch(text.strip())
    words = [word for word in old.groups() if word] if old else text.replace(",", " ").split()
    if len(words) not in (4, 5):
        raise ValueError(text)
    wholes = (width, height, width, height)
    left, top, wide, high = (_measure(word, whole) for word, whole in zip(words, wholes, strict=False))
    if len(words) == 4:
        return Rectangle(left, top, wide, high, Fraction(opacity))
    told = _measure(words[4], 1)
    # The older form counts opacity to a hundred.
    hundred = old is not None and "%" not in words[4]
    return Rectangle(left, top, wide, high, told / 100 if hundred else told)


def _measure(word: str, whole: int) -> Fraction:
    value = number(word.removesuffix("%"))
    if value is None:
        raise ValueError(word)
    return value * whole / 100 if word.endswith("%") else value
