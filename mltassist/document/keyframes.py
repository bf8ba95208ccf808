"""Animated property values: ``time[ease]=value;time[ease]=value``.

The ease belongs to the stretch that begins at its key: nothing is a straight line, ``|`` (or ``!``)
holds the value, ``~`` is a smooth curve; other signs are kept as they are. Before the first key its
value holds, after the last key the last. A key given twice: the last one counts. A negative time
counts from the end of the clip. Anything but nothing after the last ``;`` is one more key for the
engine, at frame 0, even a blank: it is kept here, and nothing of the kind is ever added.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from mltassist.document import times
from mltassist.document.times import Style
from mltassist.document.values import number
from mltassist.errors import TimeError
from mltassist.frames import Rate

_KEY = re.compile(r"(\s*[+-]?\d[\d:.,+-]*?\s*)([^\d\s:.,]?)=(.*)", re.DOTALL | re.ASCII)


@dataclass(frozen=True, slots=True)
class Key:
    """One key. `frame` counts from the filter's start, or from the end when negative.

    time: the time as it is written, blanks included; empty for a bare value (which counts as frame 0).
    """

    frame: int
    ease: str
    value: str
    time: str


def key(frame: int, value: str, rate: Rate, *, style: Style = Style.FRAMES, ease: str = "") -> Key:
    """A new key whose time is written in `style`."""
    return Key(frame, ease, value, times.write(frame, rate, style))


def is_animated(text: str) -> bool:
    """True when at least one part of the value carries a time."""
    return any(_KEY.fullmatch(part) for part in text.split(";"))


def parse(text: str, rate: Rate) -> tuple[Key, ...]:
    """The keys in the order in which they are written; a bare final ``;`` adds none.

    Raises TimeError when a key's time cannot be read.

    >>> [(k.frame, k.ease, k.value) for k in parse("0=-20;00:00:02.000|=0;", Rate(25))]
    [(0, '', '-20'), (50, '|', '0')]
    """
    return tuple(_key_of(part, rate) for part in _parts(text))


def write(keys: Iterable[Key]) -> str:
    """The keys as one value; parsing and writing keeps everything but a bare final ``;``."""
    return ";".join(f"{key.time}{key.ease}={key.value}" if key.time else key.value for key in keys)


def shift(text: str, rate: Rate, at: int, by: int) -> str:
    """Move every key at or after frame `at` by `by` frames; the others keep their very text.

    Keys counted from the end stay, and so does a value without times. Moved keys keep their
    spelling. Raises TimeError when a key would fall before frame 0, where it would count from the end.

    >>> shift("0=-20;50|=0;-1=3", Rate(25), 50, 25)
    '0=-20;75|=0;-1=3'
    """
    if by == 0 or not is_animated(text):
        return text
    return ";".join(_shifted(part, rate, at, by) for part in text.split(";"))


def open_gap(text: str, rate: Rate, at: int, by: int) -> str:
    """Like `shift`, but values before `at` and after `at + by` stay just as they were.

    Where a straight line crosses `at`, moving its end alone would tilt it: the value it has there is
    held through the gap. Curves that are not straight, and values that are not numbers, are shifted
    only. The engine reaches the value of a key at the end of its frame, so the line is cut a frame
    before `at`.
    """
    moved = shift(text, rate, at, by)
    keys = [key for key in parse(text, rate) if key.time and key.frame >= 0]
    before = max((k for k in keys if k.frame < at), key=lambda k: k.frame, default=None)
    after = min((k for k in keys if k.frame >= at), key=lambda k: k.frame, default=None)
    if before is None or after is None or before.ease or moved == text or before.value == after.value:
        return moved
    value = _between(before, after, at - 1)
    if value is None:
        return moved
    style = times.style_of(before.time.strip())
    held = [key(frame, value, rate, style=style) for frame in (at - 1, at + by - 1)]
    kept = [k for k in parse(moved, rate) if not (k.time and k.frame == at - 1)]
    place = next(i for i, k in enumerate(kept) if k.time and k.frame == after.frame + by)
    return write([*kept[:place], *held, *kept[place:]])


def close_gap(text: str, rate: Rate, at: int, by: int) -> str:
    """The opposite of `open_gap`: the `by` frames before `at` are gone, and what follows moves up.

    Keys among those frames go too; the straight lines through them become so much steeper.
    """
    kept = [key for key in parse(text, rate) if not (key.time and at - by <= key.frame < at)]
    if not kept:
        return text
    return shift(write(kept), rate, at, -by)


def _between(before: Key, after: Key, frame: int) -> str | None:
    """The value of a straight line at a frame, in as many numbers as its ends have."""
    first, last = ([number(word) for word in k.value.split()] for k in (before, after))
    if not first or len(first) != len(last):
        return None
    part = Fraction(frame - before.frame, after.frame - before.frame)
    ends = [(a, b) for a, b in zip(first, last, strict=True) if a is not None and b is not None]
    return " ".join(f"{float(a + part * (b - a)):.6g}" for a, b in ends) if len(ends) == len(first) else None


def _parts(text: str) -> list[str]:
    parts = text.split(";")
    return parts[:-1] if len(parts) > 1 and not parts[-1] else parts


def _key_of(part: str, rate: Rate) -> Key:
    match = _KEY.fullmatch(part)
    if match is None:
        if "=" in part:
            raise TimeError(f"{part!r} is not a key (time=value)")
        return Key(0, "", part, "")
    return Key(times.parse(match[1], rate), match[2], match[3], match[1])


def _shifted(part: str, rate: Rate, at: int, by: int) -> str:
    match = _KEY.fullmatch(part)
    if match is None:
        return part
    written, frame = match[1], times.parse(match[1], rate)
    if frame < 0 or frame < at:
        return part
    if frame + by < 0:
        raise TimeError(f"the key at frame {frame} cannot move {-by} frames earlier")
    bare = written.strip()
    moved = written.replace(bare, times.write(frame + by, rate, times.style_of(bare)))
    return f"{moved}{match[2]}={match[3]}"
