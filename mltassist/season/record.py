"""What an earlier batch finished, by contents: a line of JSON for each project, kept beside the results."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from mltassist.document.values import json_value
from mltassist.errors import OutputError
from mltassist.files import read_bytes

NAME = ".mltassist-batch.jsonl"
_LONGEST = 256 * 2**20
"""Bytes of a record that are read: a project takes about 50,000, most of them figures of its plan."""


@dataclass(frozen=True, slots=True)
class Finished:
    """A project that was finished: what it was made of, and its outcome as plain data."""

    contents: str
    outcome: dict[str, Any]


def read_finished(folder: Path) -> dict[str, Finished]:
    """What was finished in `folder`, by the place of each result below it. Damaged lines are passed over."""
    try:
        lines = read_bytes(folder / NAME, _LONGEST).splitlines()
    except OSError:
        return {}
    found: dict[str, Finished] = {}
    for line in lines:
        row = json_value(line.decode("utf-8", "replace"))
        if not isinstance(row, dict):
            continue
        place, contents, outcome = (row.get(name) for name in ("place", "contents", "outcome"))
        if isinstance(place, str) and isinstance(contents, str) and isinstance(outcome, dict):
            found[place] = Finished(contents, outcome)
    return found


def append_line(path: Path, row: dict[str, Any]) -> None:
    """Add a line of JSON to a file; one that a killed run left half is closed first.

    Raises OutputError for what is no file, or cannot be written.
    """
    try:
        if os.path.lexists(path) and not path.is_file():
            raise OutputError(path, "is no file that lines can be added to", "choose another name")
        with path.open("ab+") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - 1))
            torn = size > 0 and file.read(1) != b"\n"
            file.write((b"\n" if torn else b"") + json.dumps(row).encode() + b"\n")
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(path, f"cannot be written ({error.strerror})", "choose another name") from error
