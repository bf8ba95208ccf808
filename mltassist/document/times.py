"""Time values of a document as the engine reads them, to and from integer frames.

Three spellings (read off the engine's behaviour, version 7.12):

- no colon: frames, a fraction is cut off;
- a colon and a point or comma: a clock, ``floor(H*3600*fps) + floor(M*60*fps) + round(S*fps)``,
  exactly half going to the even frame;
- colons only: timecode, ``floor(H*3600*fps) + floor(M*60*fps) + ceil(S*fps) + FF``, so three fields
  are ``MM:SS:FF``.

Missing fields on the left are 0. A sign belongs to its own field: ``00:00:-0.617``.

The engine multiplies in binary doubles. That is imitated here, and only here, because it decides
times that lie exactly between two frames: at 25 frames per second 4.060 s is frame 101, not 102.
Every result is an integer, and `clock` never writes such a time.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import Enum
from fractions import Fraction
from math import ceil, floor

from mltassist.errors import TimeError
from mltassist.frames import Rate

_FRAMES = re.compile(r"([+-]?\d{1,12})(?:[.,]\d*)?", re.ASCII)
_FIELD = r"([+-]?\d{1,9})"
_CLOCK = re.compile(rf"(?:(?:{_FIELD}:)?{_FIELD}:)([+-]?\d{{1,9}}[.,]\d{{0,15}})", re.ASCII)
_TIMECODE = re.compile(rf"(?:(?:{_FIELD}:)?{_FIELD}:)?{_FIELD}[:;]{_FIELD}", re.ASCII)


class Style(Enum):
    """How a time is spelt: ``242``, ``00:00:09.680`` or ``00:00:09,680``."""

    FRAMES = "frames"
    CLOCK = "clock"
    CLOCK_COMMA = "clock with a comma"


def parse(text: str, rate: Rate) -> int:
    """Frames of a time value in any spelling, blanks around it allowed; may be negative.

    Raises TimeError for anything else.

    >>> parse("00:13:48.982", Rate(30000, 1001)), parse("00:00:26:00", Rate(25)), parse("-5", Rate(25))
    (24844, 650, -5)
    """
    bare = text.strip()
    if len(bare) <= 12 and bare.isascii() and bare.isdecimal():
        return int(bare)
    fps = rate.numerator / rate.denominator
    if match := _FRAMES.fullmatch(bare):
        return int(match[1])
    if match := _CLOCK.fullmatch(bare):
        seconds = float(match[3].replace(",", "."))
        return _hours(match[1], fps) + _minutes(match[2], fps) + round(fps * seconds)
    if match := _TIMECODE.fullmatch(bare):
        frames = ceil(fps * int(match[3] or 0)) + int(match[4])
        return _hours(match[1], fps) + _minutes(match[2], fps) + frames
    raise TimeError(f"{text!r} is not a time (frames, HH:MM:SS.mmm or HH:MM:SS:FF)")


def clock(frame: int, rate: Rate, *, comma: bool = False) -> str:
    """``HH:MM:SS.mmm`` of a frame, which `parse` reads as the same frame at every rate.

    More than three decimals are written only where milliseconds cannot tell two frames apart.

    >>> clock(24844, Rate(30000, 1001))
    '00:13:48.982'
    """
    hours, minutes, rest, fps = 0, 0, frame, float(rate.fraction)
    if frame > 0:
        hours = _most(lambda count: _hours(count, fps), rest, 3600 * rate.fraction)
        rest -= _hours(hours, fps)
        minutes = min(59, _most(lambda count: _minutes(count, fps), rest, 60 * rate.fraction))
        rest -= _minutes(minutes, fps)
    seconds, decimals = rest / rate.fraction, 3
    while decimals < 15 and round(fps * float(round(seconds, decimals))) != rest:
        decimals += 1
    units = round(abs(seconds) * 10**decimals)
    whole, part = divmod(units, 10**decimals)
    figures = f"-{whole}" if seconds < 0 else f"{whole:02}"
    return f"{hours:02}:{minutes:02}:{figures}{',' if comma else '.'}{part:0{decimals}}"


def style_of(text: str) -> Style:
    """The spelling of a time value; timecode counts as a clock, in which it may be rewritten."""
    if ":" not in text and ";" not in text:
        return Style.FRAMES
    return Style.CLOCK_COMMA if "," in text else Style.CLOCK


def write(frame: int, rate: Rate, style: Style) -> str:
    """A frame in the given spelling."""
    if style is Style.FRAMES:
        return str(frame)
    return clock(frame, rate, comma=style is Style.CLOCK_COMMA)


def _hours(count: int | str | None, fps: float) -> int:
    return floor(fps * int(count or 0) * 3600)


def _minutes(count: int | str | None, fps: float) -> int:
    return floor(fps * int(count or 0) * 60)


def _most(frames_in: Callable[[int], int], frames: int, frames_per_unit: Fraction) -> int:
    """The largest count for which frames_in(count) <= frames."""
    count = int(frames / frames_per_unit) + 1
    while frames_in(count) > frames:
        count -= 1
    return count
