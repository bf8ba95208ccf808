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
from dataclasses import dataclass, replace
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


def from_start(text: str, rate: Rate, length: int, before: int | None = None) -> str:
    """The same with keys counted from the start that were counted from the end, after `length` frames.

    Only those before frame `before`, where it is given, and none that lie before the start.

    >>> from_start("0=-20;-1=3", Rate(25), 200)
    '0=-20;199=3'
    """
    keys = parse(text, rate)
    counted = [k.frame + length >= 0 and (before is None or k.frame + length < before) for k in keys]
    if not any(k.frame < 0 and here for k, here in zip(keys, counted, strict=True)):
        return text
    return write(
        key(k.frame + length, k.value, rate, style=times.style_of(k.time.strip()), ease=k.ease)
        if k.frame < 0 and here
        else k
        for k, here in zip(keys, counted, strict=True)
    )


def open_gap(text: str, rate: Rate, at: int, by: int, length: int = 0) -> str:
    """Like `shift`, but values before `at` and after `at + by` stay just as they were.

    length: frames from whose end negative times count; they grow by `by` too. 0: not known.
    Where a straight line crosses `at`, moving its end alone would tilt it: the value it has there is
    held through the gap. Curves that are not straight, and values that are not numbers, are shifted
    only. The engine reaches the value of a key at the end of its frame, so the line is cut a frame
    before `at`.
    """
    text = from_start(text, rate, length, before=at)
    moved = shift(text, rate, at, by)
    if moved == text and not length:
        return text
    keys = [replace(k, frame=k.frame + length) if k.frame < 0 else k for k in parse(text, rate)]
    timed = [(k.frame, n) for n, k in enumerate(keys) if k.time and k.frame >= 0]
    _, first = max((place for place in timed if place[0] < at), default=(0, None))
    _, second = min(((f, -n) for f, n in timed if f >= at), default=(0, None))
    if first is None or second is None:
        return moved
    before, after = keys[first], keys[-second]
    value = None if before.ease or before.value == after.value else _between(before, after, at - 1)
    if value is None:
        return moved
    style = times.style_of(before.time.strip())
    held = [key(frame, value, rate, style=style) for frame in (at - 1, at + by - 1)]
    new = list(parse(moved, rate))
    new[-second:-second] = held
    return write(k for k in new if k in held or not (k.time and k.frame == at - 1))


def close_gap(text: str, rate: Rate, at: int, by: int, length: int = 0) -> str:
    """The opposite of `open_gap`: the `by` frames before `at` are gone, and what follows moves up.

    Keys among those frames go too; the straight lines through them become so much steeper.
    """
    text = from_start(text, rate, length, before=at)
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
