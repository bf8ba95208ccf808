"""Exact frame rates, timecode and half-open spans: the one home of time.

Everything above the document layer counts integer frames at the project's rate and leaves the
conversion to seconds, samples or timecode to this module. No binary floating point is used.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import gcd

from mltassist.errors import TimeError


@dataclass(frozen=True, slots=True)
class Rate:
    """Frames per second as a reduced fraction, e.g. ``Rate(30000, 1001)``.

    Raises TimeError when either part is not positive.

    >>> Rate(60000000, 1000000)
    Rate(numerator=60, denominator=1)
    """

    numerator: int
    denominator: int = 1

    def __post_init__(self) -> None:
        if self.numerator <= 0 or self.denominator <= 0:
            raise TimeError(f"a frame rate of {self.numerator}/{self.denominator} is impossible")
        common = gcd(self.numerator, self.denominator)
        object.__setattr__(self, "numerator", self.numerator // common)
        object.__setattr__(self, "denominator", self.denominator // common)

    @property
    def fraction(self) -> Fraction:
        """Frames per second."""
        return Fraction(self.numerator, self.denominator)

    @property
    def nominal(self) -> int:
        """The whole number that timecode counts to: 30 for 30000/1001."""
        return max(1, round_half_up(self.fraction))

    @property
    def drops(self) -> int:
        """Labels that drop-frame timecode leaves out each minute: 2 at 29.97, 4 at 59.94, else 0."""
        if self.denominator == 1001 and self.numerator in (30000, 60000):
            return self.numerator // 15000
        return 0

    def seconds(self, frames: int) -> Fraction:
        """Exact length of `frames` in seconds."""
        return Fraction(frames * self.denominator, self.numerator)

    def frames(self, seconds: Fraction | int | str) -> int:
        """Nearest whole frame, half up. A string is read as a decimal number of seconds."""
        return round_half_up(_decimal(seconds) * self.fraction)

    def samples(self, frames: int, rate_hz: int) -> int:
        """First sample of frame `frames` at `rate_hz`, to the nearest sample as the engine counts.

        >>> Rate(30000, 1001).samples(2698, 48000)
        4321117
        """
        return round_half_up(Fraction(frames * rate_hz * self.denominator, self.numerator))

    def frame_at_sample(self, sample: int, rate_hz: int) -> int:
        """The frame in which sample number `sample` sounds."""
        frame = sample * self.numerator // (rate_hz * self.denominator)
        return frame + 1 if self.samples(frame + 1, rate_hz) <= sample else frame


def round_half_up(value: Fraction) -> int:
    """Nearest integer; exactly half goes up.

    >>> round_half_up(Fraction(5, 2)), round_half_up(Fraction(-5, 2))
    (3, -2)
    """
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)


def _decimal(seconds: Fraction | int | str) -> Fraction:
    if not isinstance(seconds, str):
        return Fraction(seconds)
    # Plain decimals only: an exponent such as 1e999999999 would fill the memory.
    if _SECONDS.fullmatch(seconds.strip()) is None:
        raise TimeError(f"{seconds!r} is not a number of seconds")
    return Fraction(seconds.strip().replace(",", "."))


# --- timecode -----------------------------------------------------------------------------------

_TIMECODE = re.compile(r"(\d{1,3}):(\d{2}):(\d{2})([:;])(\d{2,3})")
_SECONDS = re.compile(r"[+-]?(?:\d{1,12}(?:[.,]\d{0,15})?|[.,]\d{1,15})")
_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,3}):(\d{2}(?:[.,]\d{1,15})?)")


def format_timecode(frame: int, rate: Rate, *, drop: bool | None = None) -> str:
    """SMPTE ST 12-1 label of a frame; ``;`` before the frames marks drop-frame.

    `drop` None means drop-frame wherever the rate has it (29.97 and 59.94).

    >>> format_timecode(1800, Rate(30000, 1001))
    '00:01:00;02'
    >>> format_timecode(1800, Rate(25))
    '00:01:12:00'
    """
    dropping = rate.drops > 0 if drop is None else drop
    if dropping and not rate.drops:
        raise TimeError(f"drop-frame timecode does not exist at {rate.fraction} frames per second")
    sign, frame, base = "-" if frame < 0 else "", abs(frame), rate.nominal
    if dropping:
        per_minute = base * 60 - rate.drops
        tens, rest = divmod(frame, per_minute * 10 + rate.drops)
        later_minutes = max(0, rest - rate.drops) // per_minute
        frame += rate.drops * (9 * tens + later_minutes)
    seconds, frames = divmod(frame, base)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    mark = ";" if dropping else ":"
    return f"{sign}{hours:02}:{minutes:02}:{seconds:02}{mark}{frames:02}"


def parse_timecode(text: str, rate: Rate) -> int:
    """Frame of an ``HH:MM:SS:FF`` (or, drop-frame, ``HH:MM:SS;FF``) label.

    Raises TimeError for anything else, for fields out of range and for labels that drop-frame
    counting leaves out.
    """
    match = _TIMECODE.fullmatch(text.strip())
    if match is None:
        raise TimeError(f"{text!r} is not a timecode (HH:MM:SS:FF)")
    hours, minutes, seconds, frames = (int(match[group]) for group in (1, 2, 3, 5))
    base = rate.nominal
    if minutes > 59 or seconds > 59 or frames >= base:
        raise TimeError(f"{text!r} is not a timecode at {base} frames a second")
    total = ((hours * 60 + minutes) * 60 + seconds) * base + frames
    if match[4] == ":":
        return total
    if not rate.drops:
        raise TimeError(f"{text!r} is drop-frame timecode, which {base} frames a second does not use")
    if minutes % 10 and seconds == 0 and frames < rate.drops:
        raise TimeError(f"{text!r} does not exist: drop-frame timecode leaves that label out")
    whole_minutes = hours * 60 + minutes
    return total - rate.drops * (whole_minutes - whole_minutes // 10)


def parse_place(text: str, rate: Rate) -> int | None:
    """A frame from what an editor types: timecode, a clock with decimals, or ``f1234``.

    Returns None when the text has none of these forms (it may then be a marker's text). Raises
    TimeError for one of these forms with a field out of range.
    """
    text = text.strip()
    if re.fullmatch(r"f\d{1,12}", text):
        return int(text[1:])
    if _TIMECODE.fullmatch(text):
        return parse_timecode(text, rate)
    if clock := _CLOCK.fullmatch(text):
        hours, minutes, seconds = int(clock[1] or 0), int(clock[2]), _decimal(clock[3])
        if seconds >= 60 or (clock[1] is not None and minutes > 59):
            raise TimeError(f"{text!r} is not a time: minutes and seconds go up to 59")
        return rate.frames((hours * 60 + minutes) * 60 + seconds)
    return None


# --- spans --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Frames from `start` up to, not including, `end`."""

    start: int
    end: int

    @property
    def length(self) -> int:
        """Number of frames."""
        return self.end - self.start

    def __contains__(self, frame: int) -> bool:
        return self.start <= frame < self.end

    def overlaps(self, other: Span) -> bool:
        """True when the two share at least one frame."""
        return self.start < other.end and other.start < self.end

    def covers(self, other: Span) -> bool:
        """True when `other` lies wholly inside."""
        return self.start <= other.start and other.end <= self.end

    def shared(self, other: Span) -> Span:
        """The frames in both; empty (length <= 0) when they do not overlap."""
        return Span(max(self.start, other.start), min(self.end, other.end))

    def shifted(self, by: int) -> Span:
        """The same length, `by` frames later."""
        return Span(self.start + by, self.end + by)

    def grown(self, before: int, after: int) -> Span:
        """`before` frames earlier at the start and `after` later at the end."""
        return Span(self.start - before, self.end + after)


def joined(spans: Iterable[Span], bridge: int = 0) -> tuple[Span, ...]:
    """Sorted union; spans that overlap, touch, or lie at most `bridge` frames apart become one.

    >>> joined([Span(0, 4), Span(6, 9)], bridge=2)
    (Span(start=0, end=9),)
    """
    result: list[Span] = []
    for span in sorted(span for span in spans if span.length > 0):
        if result and span.start <= result[-1].end + bridge:
            result[-1] = Span(result[-1].start, max(result[-1].end, span.end))
        else:
            result.append(span)
    return tuple(result)


def without(spans: Iterable[Span], holes: Iterable[Span]) -> tuple[Span, ...]:
    """The parts of `spans` that no hole touches, sorted.

    >>> without([Span(0, 10)], [Span(3, 5)])
    (Span(start=0, end=3), Span(start=5, end=10))
    """
    return tuple(_cut_away(joined(spans), joined(holes)))


def _cut_away(spans: tuple[Span, ...], holes: tuple[Span, ...]) -> Iterator[Span]:
    first = 0
    for span in spans:
        start = span.start
        while first < len(holes) and holes[first].end <= start:
            first += 1
        for hole in holes[first:]:
            if hole.start >= span.end:
                break
            if hole.start > start:
                yield Span(start, hole.start)
            start = max(start, hole.end)
        if start < span.end:
            yield Span(start, span.end)


def shared(some: Iterable[Span], others: Iterable[Span]) -> tuple[Span, ...]:
    """The frames that lie both in `some` and in `others`, sorted."""
    left = joined(some)
    return without(left, without(left, others))
