"""Names of files in tables: a line of one ends where a folder does, and nowhere within a word."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderResult
from rich.measure import Measurement
from rich.text import Text

from mltassist.cli.saying import on_one_line

_MARKED = re.compile(r"[^-_.]*[-_.]+|[^-_.]+", re.DOTALL)
_PIECES = re.compile(r".+?(?:[/\\]+|\s+|$)", re.DOTALL)


class Parted:
    """Text with paths in it, in as many lines as a column needs.

    A folder or word that is wider than its column is parted after a mark, or, without one, where it must.
    """

    def __init__(self, text: str) -> None:
        self._pieces = _PIECES.findall(on_one_line(text))

    def __rich_measure__(self, _: Console, options: ConsoleOptions) -> Measurement:
        widths = [cell_len(piece.rstrip()) for piece in self._pieces]
        whole = sum(map(cell_len, self._pieces))
        return Measurement(min(max(widths, default=0), options.max_width), min(whole, options.max_width))

    def __rich_console__(self, _: Console, options: ConsoleOptions) -> RenderResult:
        yield Text("\n".join(_lines(self._pieces, options.max_width)), overflow="fold")


def _lines(pieces: Sequence[str], width: int) -> list[str]:
    lines = [""]
    for piece in (small for one in pieces for small in _fitting(one, width)):
        if cell_len(lines[-1] + piece.rstrip()) <= width:
            lines[-1] += piece
        else:
            lines.append(piece)
    return [line.rstrip() for line in lines if line.strip()] or [""]


def _fitting(piece: str, width: int) -> list[str]:
    """A piece in parts, each of which a line can hold."""
    if cell_len(piece.rstrip()) <= width:
        return [piece]
    parts = _MARKED.findall(piece)
    return [small for part in parts for small in ([part] if cell_len(part) <= width else part)]
