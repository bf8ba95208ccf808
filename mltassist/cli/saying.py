"""Words on their way to a person: without what a terminal would obey, and not lost without being missed."""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, TextIO, cast

_OBEYED = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
"""Controls (C0, C1, delete), line ends, marks that turn the direction of writing (Unicode's bidirectional
algorithm, UAX 9), and halves of characters, which no file can hold."""


def on_one_line(text: str) -> str:
    """The text on one line, with a visible code for whatever a terminal would obey instead of showing.

    >>> on_one_line("a\\x1b[31m\\x9b1m\\u202eb\\nc")
    'a\\\\x1b[31m\\\\x9b1m\\\\u202eb c'
    """
    spaced = text.replace("\r\n", " ").replace("\n", " ").replace("\t", " ")
    return _OBEYED.sub(lambda found: ascii(found[0])[1:-1], spaced)


def say(text: str, *, err: bool = False) -> None:
    """Print one line."""
    stream = sys.stderr if err else sys.stdout
    stream.write(on_one_line(text) + "\n")


def as_json(data: dict[str, Any] | list[Any]) -> str:
    """Data as JSON text in which nothing stands that a terminal would obey, or has no letters for."""
    narrow = not (sys.stdout.encoding or "").lower().startswith("utf")
    text = json.dumps(data, ensure_ascii=narrow, indent=2)
    lines = text.split("\n")  # of its own; those of the data are written as \\n
    return "\n".join(_OBEYED.sub(lambda found: f"\\u{ord(found[0]):04x}", line) for line in lines) + "\n"


class Stream:
    """A stream that goes quiet when it cannot be written to any more, and keeps the reason."""

    def __init__(self, stream: TextIO | None) -> None:
        self._stream = stream
        self.trouble: OSError | None = None
        with suppress(AttributeError, OSError):
            # What the terminal has no letters for is shown as a code.
            cast("Any", stream).reconfigure(errors="backslashreplace")

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - whatever the stream has
        return getattr(self._stream, name)

    def isatty(self) -> bool:
        """As of any stream."""
        return self._stream is not None and self._stream.isatty()

    def write(self, text: str) -> int:
        """As of any stream, but never fails for what the system says."""
        self._try("write", text)
        return len(text)

    def flush(self) -> None:
        """As `write`."""
        self._try("flush")

    def _try(self, name: str, *given: str) -> None:
        if self.trouble is not None:
            return
        if self._stream is None:  # it was closed when the command began
            self.trouble = BrokenPipeError(None, "it is closed")
            return
        try:
            getattr(self._stream, name)(*given)
        except OSError as error:
            self.trouble = error
            # What waits in the stream would fail once more when the command ends.
            with suppress(OSError, ValueError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), self._stream.fileno())


@contextmanager
def enduring() -> Iterator[Stream]:
    """Both streams go quiet within where they cannot be written to; gives the one of results."""
    before = sys.stdout, sys.stderr
    results = Stream(sys.stdout)
    sys.stdout, sys.stderr = cast("TextIO", results), cast("TextIO", Stream(sys.stderr))
    try:
        yield results
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        sys.stdout, sys.stderr = before
