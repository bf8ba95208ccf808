"""What log sheets say of the rushes: plain data about the clips of a bin, like the bin itself.

It is read in `rushes/`. It lies down here since every finding carries it and planners use its moments, and
neither knows of files.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from mltassist.frames import Span


@dataclass(frozen=True, slots=True)
class LogRow:
    """One usable moment. first, last: its in and out as they were written, "" where the cell is empty.

    last is the first frame after the moment. subjects: lower case. rating: 0 to 5, None where none is given.
    of: names of those whose shot it is.
    """

    line: int
    file: str
    first: str = ""
    last: str = ""
    size: str = ""
    subjects: tuple[str, ...] = ()
    rating: Fraction | None = None
    of: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong with a sheet, where, and what to do. grave: something the sheet says is not done."""

    text: str
    grave: bool = True


@dataclass(frozen=True, slots=True)
class Log:
    """What the sheets say of the bin. rows: by source key, each with its sheet."""

    sheets: tuple[Path, ...] = ()
    rows: Mapping[str, tuple[tuple[Path, LogRow], ...]] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()

    def words(self) -> dict[str, str]:
        """By source key, all subjects that are given to it."""
        return {
            key: " ".join(subject for _, row in rows for subject in row.subjects)
            for key, rows in self.rows.items()
        }


@dataclass(frozen=True, slots=True)
class Logged:
    """A moment of a sheet in source frames, the rest as in its row. where: its sheet and line."""

    span: Span
    size: str
    subjects: tuple[str, ...]
    rating: Fraction | None
    where: str = ""
    of: tuple[str, ...] = ()
