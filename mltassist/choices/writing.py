"""The file of choices, written: whole or not at all, and nothing lost that another wrote meanwhile."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

from filelock import FileLock, Timeout

from mltassist.choices.kinds import LISTS, ChangeChoices, Choices, row_fields
from mltassist.choices.reading import load_choices
from mltassist.document.save import replace_text
from mltassist.errors import OutputError

WAIT_S = 10
"""Longer than any writer takes."""
_HEAD = """\
# What was decided on this film; planning commands obey it before all else (docs/formats.md).
# A decision is named by what it is about: frames of the sources, not of the film.
"""


def choices_text(choices: Choices) -> str:
    """The choices as TOML; the same choices always give the same text."""
    lines = [_HEAD, f"version = {choices.version}"]
    if choices.never:
        lines.append(f"never = [{', '.join(map(_quoted, choices.never))}]")
    if choices.means:
        lines += ["", "[means]"]
        lines += [
            f"{_quoted(tag)} = [{', '.join(map(_quoted, words))}]" for tag, words in choices.means.items()
        ]
    for part in LISTS:
        for row in getattr(choices, part):
            lines += ["", f"[[{part}]]", *(f"{name} = {_value(value)}" for name, value in row_fields(row))]
    return "\n".join(lines) + "\n"


def update_choices(path: str | os.PathLike[str], change: ChangeChoices) -> Choices:
    """Change the file of choices, one writer at a time; gives what it then holds.

    change: makes the new choices of those that are there by then, so that none is lost that another writer
    has put in meanwhile. A file without any choice that was not there is not made. Once this returns, what
    was changed is on the disk. Raises ChoicesError where the file cannot be read, OutputError where it cannot
    be written; it then stays as it was.
    """
    path = Path(path)
    with _alone(path):
        there = os.path.lexists(path)
        now = change(load_choices(path) if there else Choices())
        if there or now:
            replace_text(choices_text(now), path)
    return now


@contextlib.contextmanager
def _alone(path: Path) -> Iterator[None]:
    if not path.parent.is_dir():
        raise OutputError(path, "its folder does not exist", "make the folder or choose another")
    try:
        # The system lets go of the lock when its holder ends, however it ends.
        with FileLock(path.with_name(f".{path.name}.lock"), timeout=WAIT_S):
            yield
    except Timeout:
        raise OutputError(path, "another program is writing it", "try again") from None
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(path, f"cannot be written ({error.strerror or error})") from error


def _value(value: object) -> str:
    if isinstance(value, Fraction):
        return f"{float(value):g}" if value.denominator != 1 else str(value.numerator)
    return _quoted(value) if isinstance(value, str) else str(value)


def _quoted(text: str) -> str:
    """Text as a string of TOML, which is that of JSON but for one character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
