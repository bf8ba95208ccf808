"""Gains as the engine reads them from text (read off its volume filter, version 7.12), in dB."""

from __future__ import annotations

import re
from math import log10

from mltassist.document.values import number

SILENCE_DB = -120.0
"""What a gain of nothing is read as."""
_NUMBER = re.compile(
    r"\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[+-]?\d{1,2})?)\s*(db)?", re.IGNORECASE | re.ASCII
)


def level_db(text: str) -> float:
    """A level in dB: a number, with or without its unit; nothing is 0 dB.

    >>> level_db("-6,5 dB"), level_db("")
    (-6.5, 0.0)
    """
    found = number(text.strip().lower().removesuffix("db"))
    return max(SILENCE_DB, float(found or 0))


def gain_db(text: str | None) -> float:
    """A gain: a factor (its sign dropped), or dB where that follows the number.

    It has no keys: only the number at its beginning counts, of "0=0;24=1" that is silence, and so is what
    begins with none. What it makes of "normalise" depends on the sound, and is left out.

    >>> gain_db("-10"), gain_db("-6dB"), gain_db("0=0;24=1"), gain_db(None)
    (20.0, -6.0, -120.0, 0.0)
    """
    if text is None or not text.strip() or text.strip().startswith("normalise"):
        return 0.0
    found = _NUMBER.match(text)
    if found is None:
        return SILENCE_DB
    value = max(-1e9, min(1e9, float(found[1].replace(",", "."))))
    if found[2]:
        return max(SILENCE_DB, value)
    factor = abs(value)
    return 20 * log10(factor) if factor > 10 ** (SILENCE_DB / 20) else SILENCE_DB
