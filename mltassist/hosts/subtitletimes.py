"""The times in the text of subtitles, moved where they stand: everything else stays byte for byte.

SubRip and WebVTT write a line of two times for each subtitle, WebVTT other times inside its text; Advanced
SubStation Alpha (and the older SSA) a row of fields in the section [Events], whose first row names them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pysubs2

from mltassist.document.values import whole

SUFFIXES = {"srt": ".srt", "vtt": ".vtt", "ass": ".ass", "ssa": ".ssa"}
"""Kinds of text that are moved, as the library calls them, and how their files end."""
_TIME = r"(?:\d{1,4}:)?\d{1,2}:\d{1,2}[.,]\d{1,3}"
_PARTS = re.compile(r"(?:(\d{1,4}):)?(\d{1,2}):(\d{1,2})([.,])(\d{1,3})", re.ASCII)
_SHOWN = re.compile(rf"^(\s*)({_TIME})(\s*-+>\s*)({_TIME})(?!\d)(.*)$", re.DOTALL | re.ASCII)
_INSIDE = re.compile(rf"(?<=<){_TIME}(?=>)", re.ASCII)
_LINE_END = re.compile(r"(\r\n|\r|\n)")
_ROWS = ("dialogue", "comment", "picture", "sound", "movie", "command")

Move = Callable[[int, int], tuple[int, int]]
"""Gives the new first and last time of a subtitle, in milliseconds."""


def kind_of(text: str) -> str:
    """What kind of subtitles a text is; ValueError for one that is none, or whose times are not known."""
    try:
        kind = pysubs2.formats.autodetect_format(text.removeprefix("\ufeff"))
    except pysubs2.exceptions.Pysubs2Error as error:
        raise ValueError("no subtitles") from error
    if kind not in SUFFIXES:
        raise ValueError(f"subtitles of kind {kind}")
    return kind


def moved(text: str, later_ms: Callable[[int], int]) -> str:
    """The text with its subtitles where the film has moved to; one across a place stays so much longer.

    later_ms: how much later that is seen which was seen at a time; both in milliseconds. Raises ValueError
    for what is no SubRip, WebVTT or (Advanced) SubStation Alpha.
    """

    def move(first: int, last: int) -> tuple[int, int]:
        begins = first + later_ms(first)
        if last <= first:  # it is never seen
            return begins, last + later_ms(first)
        return begins, max(begins, last + later_ms(last - 1))

    kind = kind_of(text)
    pieces = _LINE_END.split(text)
    lines = _rows(pieces[::2], move) if kind in ("ass", "ssa") else _shown(pieces[::2], move, kind)
    pieces[::2] = lines
    return "".join(pieces)


def _shown(lines: list[str], move: Move, kind: str) -> Iterator[str]:
    for line in lines:
        if found := _SHOWN.match(line):
            before, first, arrow, last, after = found.groups()
            yield before + "".join((*_both(first, last, arrow, move), after))
        elif kind == "vtt":
            yield _INSIDE.sub(lambda time: _like(time[0], move(*2 * (_milliseconds(time[0]),))[0]), line)
        else:
            yield line


def _rows(lines: list[str], move: Move) -> Iterator[str]:
    inside, fields = False, ["start", "end"]
    for line in lines:
        head, colon, rest = line.partition(":")
        name = head.strip().lower()
        if line.lstrip("\ufeff \t").startswith("["):
            inside = line.lstrip("\ufeff \t").lower().startswith("[events]")
        elif inside and colon and name == "format":
            fields = [field.strip().lower() for field in rest.split(",")]
        elif inside and colon and name in _ROWS and {"start", "end"} <= set(fields):
            yield head + colon + _row(rest, fields.index("start"), fields.index("end"), move)
            continue
        yield line


def _row(rest: str, start: int, end: int, move: Move) -> str:
    values = rest.split(",")
    if max(start, end) < len(values):
        first, last = (_PARTS.search(values[place]) for place in (start, end))
        if first and last:
            new_first, _, new_last = _both(first[0], last[0], "", move)
            values[start] = values[start].replace(first[0], new_first)
            values[end] = values[end].replace(last[0], new_last)
    return ",".join(values)


def _both(first: str, last: str, between: str, move: Move) -> tuple[str, str, str]:
    """Two times moved; one that does not move is spelled as it was."""
    times = _milliseconds(first), _milliseconds(last)
    texts = (
        text if old == new else _like(text, new)
        for text, old, new in zip((first, last), times, move(*times), strict=True)
    )
    new_first, new_last = texts
    return new_first, between, new_last


def _milliseconds(text: str) -> int:
    found = _PARTS.fullmatch(text)
    hours, minutes, seconds, _, part = found.groups() if found else ("0", "0", "0", "", "0")
    h, m, s = (whole(value or "0") or 0 for value in (hours, minutes, seconds))
    return ((h * 60 + m) * 60 + s) * 1000 + (whole(part.ljust(3, "0")) or 0)


def _like(text: str, milliseconds: int) -> str:
    """A time in the spelling of another: its hours, its mark, and as many places of a second."""
    found = _PARTS.fullmatch(text)
    if found is None:
        return text
    hours, _, _, mark, part = found.groups()
    unit = 10 ** (3 - len(part))
    total, rest = divmod(round(max(0, milliseconds) / unit) * unit, 1000)
    h, m, s = total // 3600, total // 60 % 60, total % 60
    shown = f"{h:0{len(hours or '00')}}:" if hours or h else ""
    return f"{shown}{m:02}:{s:02}{mark}{rest // unit:0{len(part)}}"
