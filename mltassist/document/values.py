"""Numbers and JSON that a document holds as text: what is none, or beyond all reach, is told as None.

Python reads more than documents may hold (``1/0``, ``²``, ``1_000``, ``NaN``, numbers of thousands of
digits), and builds without a limit what an exponent or nested brackets ask for. Nothing here raises.
"""

from __future__ import annotations

import json
import re
from fractions import Fraction
from math import isfinite
from typing import Any

MOST = 10**12
"""No frame, size, level or speed comes near it."""
MAX_DEPTH = 50
"""Levels of JSON; groups within groups are a handful deep."""

_WHOLE = re.compile(r"[+-]?\d{1,13}", re.ASCII)
_NUMBER = re.compile(r"[+-]?(?:\d{1,30}(?:[.,]\d{0,30})?|[.,]\d{1,30})(?:[eE][+-]?\d{1,2})?", re.ASCII)


def whole(text: str | None) -> int | None:
    """A whole number, blanks around it allowed.

    >>> whole(" 12 "), whole("-3"), whole("²"), whole("1.0"), whole("9" * 5000), whole(None)
    (12, -3, None, None, None, None)
    """
    text = (text or "").strip()
    found = int(text) if _WHOLE.fullmatch(text) else MOST + 1
    return found if abs(found) <= MOST else None


def number(text: str | None) -> Fraction | None:
    """A decimal number with a point or a comma, exact; blanks around it and a short exponent are allowed.

    >>> number("1,5"), number("-2e-1"), number("1/0"), number("1e99999999"), number("nan")
    (Fraction(3, 2), Fraction(-1, 5), None, None, None)
    """
    text = (text or "").strip()
    found = Fraction(text.replace(",", ".")) if _NUMBER.fullmatch(text) else None
    return found if found is not None and abs(found) <= MOST else None


def json_value(text: str | None) -> object | None:
    """What JSON text says; None where it says null, is none, or is nested more than MAX_DEPTH deep.

    Numbers in it are finite, and none goes beyond MOST.

    >>> json_value('[{"pos": 3}]'), json_value("[NaN]"), json_value("[1e999]"), json_value("[" * 9999)
    ([{'pos': 3}], None, None, None)
    """
    try:
        found: object = json.loads(
            text or "null", parse_int=_within, parse_float=_within, parse_constant=_within
        )
    except (ValueError, RecursionError):
        return None
    level = [found]
    for _ in range(MAX_DEPTH):
        level = [inner for one in level for inner in _inside(one)]
        if not level:
            return found
    return None


def _within(text: str) -> int | float:
    """A number of JSON. Raises ValueError for one beyond all reach."""
    found = whole(text)
    if found is not None:
        return found
    decimal = float(text) if "." in text or "e" in text.lower() else float("inf")
    if not isfinite(decimal) or abs(decimal) > MOST:
        raise ValueError(text)
    return decimal


def _inside(value: object) -> list[Any]:
    if isinstance(value, dict):
        return list(value.values())
    return value if isinstance(value, list) else []
