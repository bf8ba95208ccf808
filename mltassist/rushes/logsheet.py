"""Log sheets: the tables that editors keep while they look through rushes. Text in, rows out.

The form is told in docs/formats.md. What cannot be read is told by line and never stops the rest.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from mltassist.errors import TimeError
from mltassist.frames import Rate, Span, parse_timecode
from mltassist.timeline.elements import SIZES, persons_in
from mltassist.timeline.log import LogRow

BEST = 5
"""The highest rating; the lowest, 0, says that a moment is not to be used."""
_DELIMITERS = (",", ";", "\t")
_SECONDS = re.compile(r"\d{1,12}[.,]\d{0,15}|[.,]\d{1,15}")
_SPOKEN_SIZES = {
    "WIDE": "WS",
    "MEDIUM": "MS",
    "CLOSE": "CU",
    "CLOSE-UP": "CU",
    "CLOSE UP": "CU",
    "CLOSEUP": "CU",
}


@dataclass(frozen=True, slots=True)
class LogSheet:
    """The rows of a sheet that can be used, and what is wrong with the others, a text each."""

    rows: tuple[LogRow, ...]
    problems: tuple[str, ...] = ()


def read_log_sheet(text: str, rate: Rate) -> LogSheet:
    """Read a sheet; `rate` is the project's, in which its timecodes count."""
    lines = io.StringIO(text.removeprefix("\ufeff"), newline="").readlines()
    # A line passed over stays as an empty one, so that lines keep their numbers.
    lines = ["\n" if line.lstrip().startswith("#") else line for line in lines]
    header = next((line for line in lines if line.strip()), "")
    delimiter = max(_DELIMITERS, key=header.count)
    records = _records(lines, delimiter)
    problems: list[str] = []
    rows: list[LogRow] = []
    names: list[str] | None = None
    for line, cells, problem in records:
        if problem:
            problems.append(f"line {line}: {problem}")
        elif names is None:
            names = [cell.casefold() for cell in cells]
            if "file" not in names:
                break
        elif len(cells) > len(names) and any(cells[len(names) :]):
            problems.append(
                f"line {line}: it has more columns than the header; put quotes around a cell with"
                f" {delimiter!r} in it"
            )
        else:
            row, told = _row(line, dict(zip(names, cells, strict=False)), rate)
            problems += [f"line {line}: {what}" for what in told]
            rows += [row] if row is not None else []
    if names is None or "file" not in names:
        return LogSheet((), ("it has no column named file; write file,in,out,... in its first line",))
    return LogSheet(tuple(rows), tuple(problems))


def _records(lines: list[str], delimiter: str) -> Iterator[tuple[int, list[str], str]]:
    """Every line with something in it: its number, its cells without blanks around them, what is wrong."""
    reader = csv.reader(lines, delimiter=delimiter, strict=True, skipinitialspace=True)
    while True:
        line = reader.line_num + 1
        try:
            cells = [cell.strip() for cell in next(reader)]
        except StopIteration:
            return
        except csv.Error as error:
            ends = reader.line_num >= len(lines)
            rest = ", and nothing below it is read" if ends and line < len(lines) else ""
            yield line, [], f"its quotes do not pair ({error}){rest}; mend them"
            continue
        if any(cells):
            yield line, cells, ""


def _row(line: int, cells: dict[str, str], rate: Rate) -> tuple[LogRow | None, list[str]]:
    """The row of these cells, None where it cannot be used, and what is wrong with it."""
    problems: list[str] = []
    file = cells.get("file", "")
    if not file:
        return None, ["it names no file; write one, or # in front of the line"]
    for name in ("in", "out"):
        try:
            frame_of(cells.get(name, ""), rate)
        except TimeError as error:
            return None, [f"{name}: {error}; write HH:MM:SS:FF, or seconds with a point"]
    size = cells.get("size", "").upper()
    size = _SPOKEN_SIZES.get(size, size)
    if size and size not in SIZES:
        problems.append(f"size {cells['size']!r} is none of {', '.join(SIZES)}: it is passed over")
        size = ""
    rating = None
    if written := cells.get("rating", ""):
        if re.fullmatch(r"\d(?:[.,]\d{1,3})?", written):
            rating = Fraction(written.replace(",", "."))
        if rating is None or rating > BEST:
            problems.append(f"rating {written!r} is not a number from 0 to {BEST}: it is passed over")
            rating = None
    parts = (part.strip().lower() for part in re.split(r"[/|]", cells.get("subject", "")))
    subjects = tuple(dict.fromkeys(part for part in parts if part))
    first, last, of = cells.get("in", ""), cells.get("out", ""), persons_in(cells.get("of", ""))
    return LogRow(line, file, first, last, size, subjects, rating, of), problems


def frame_of(text: str, rate: Rate, start: str = "") -> int | None:
    """The source frame that a cell means, None for an empty one.

    start: the timecode of the file's first frame, "" where it has none: a timecode at or after it counts
    from it, any other from the file's first frame, as seconds always do. Raises TimeError.
    """
    if not text:
        return None
    if _SECONDS.fullmatch(text):
        return rate.frames(text)
    frame = parse_timecode(text, rate)
    if start:
        # A sheet that parts all fields by colons still counts as the file does.
        alike = text[::-1].replace(":", ";", 1)[::-1] if ";" in start and ";" not in text else text
        first, own = parse_timecode(start, rate), parse_timecode(alike, rate)
        return own - first if own >= first else frame
    return frame


def row_span(row: LogRow, rate: Rate, length: int, handle: int, start: str = "") -> Span:
    """The source frames of a row's moment in a file of `length` frames whose ends are held by `handle`.

    A length of 0 is not known. Raises TimeError where they are not in the file, or none are left.
    """
    first, last = frame_of(row.first, rate, start), frame_of(row.last, rate, start)
    span = Span(handle if first is None else first, length - handle if last is None else last)
    if span.length <= 0:
        raise TimeError("its out is not after its in; give the in first")
    if span.end > length > 0:
        seconds = float(rate.seconds(length))
        raise TimeError(f"it lies outside the clip, which is {seconds:.2f} s long; check in and out")
    return span
