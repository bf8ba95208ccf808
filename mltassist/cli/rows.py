"""Tables for people, whose cells hold no controls."""

from __future__ import annotations

from typing import Any

from rich.table import Table

from mltassist.cli.saying import on_one_line


class Rows(Table):
    """A table whose cells hold no controls."""

    def add_row(self, *cells: Any, **options: Any) -> None:  # noqa: ANN401 - as its parent's
        """Add a row of texts."""
        super().add_row(*(on_one_line(cell) if isinstance(cell, str) else cell for cell in cells), **options)
