"""Names of decisions as text: what they are about, by source and frame of the source."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import unquote

KINDS = ("shot", "join", "tone", "pause", "level", "match")
_ANCHOR = r"(-?\d{1,10})([+-]\d{1,10})?(?:#(\d{1,6}))? ([^>]*?)"
_NAME = re.compile(rf"({'|'.join(KINDS)})(?::([\w-]+))? {_ANCHOR}(?: > {_ANCHOR})?")


@dataclass(frozen=True, slots=True)
class Anchor:
    """A place by what is played there: frame `frame` of a source.

    file: the end of its path by which it is told apart; "" where a film plays nothing at all. after: so many
    frames later, where nothing that could name the place is played itself. nth: which time it is played,
    from 1.
    """

    file: str
    frame: int
    after: int = 0
    nth: int = 1

    def __str__(self) -> str:
        after = f"{self.after:+d}" if self.after else ""
        nth = f"#{self.nth}" if self.nth != 1 else ""
        return f"{self.frame}{after}{nth} {self.file_as_text}"

    @property
    def file_as_text(self) -> str:
        """The file as names hold it."""
        return _escaped(self.file)


@dataclass(frozen=True, slots=True)
class Name:
    """What a decision is about. what: which sound a level is of; last: the other side, or the last frame."""

    kind: str
    first: Anchor
    last: Anchor | None = None
    what: str = ""

    def __str__(self) -> str:
        kind = f"{self.kind}:{self.what}" if self.what else self.kind
        return f"{kind} {self.first}" + ("" if self.last is None else f" > {self.last}")


def read_name(text: str) -> Name | None:
    """A name from its text; None where it is none.

    >>> str(read_name("join 1204 ines.mp4 > 1310#2 ines.mp4"))
    'join 1204 ines.mp4 > 1310#2 ines.mp4'
    """
    found = _NAME.fullmatch(text)
    if found is None:
        return None
    kind, what, *parts = found.groups()
    first, last = _anchor(*parts[:4]), None if parts[4] is None else _anchor(*parts[4:])
    if (last is None) == (kind in ("shot", "join")) or (kind == "level") == (what is None):
        return None
    return Name(kind, first, last, what or "")


def _anchor(frame: str, after: str | None, nth: str | None, file: str) -> Anchor:
    return Anchor(unquote(file), int(frame), int(after or 0), int(nth or 1))


def _escaped(file: str) -> str:
    """The path without what parts the sides of a name, or ends a line."""
    return "".join(
        letter
        if letter.isprintable() and letter not in "%>"
        else "".join(f"%{b:02X}" for b in _bytes(letter))
        for letter in file
    )


def _bytes(letter: str) -> bytes:
    return letter.encode("utf-8", "surrogatepass")
