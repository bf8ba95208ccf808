"""What documents hold about a timeline besides its clips, as plain data that loses nothing.

Markers and groups are read and written as a whole. Each carries, in `stored`, the very thing its host keeps
of it (never changed in place; None for a new one), so that what we do not know is written back as it was.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from mltassist.timeline.moves import Place

MARKER_PREFIX = "mltassist: "
"""Begins the text of every marker of ours, which is all that survives in every host."""


@dataclass(frozen=True, slots=True)
class Kept:
    """Something among markers or groups that cannot be read: it stays what and where it is."""

    stored: Any


@dataclass(frozen=True, slots=True)
class StoredMarker:
    """A mark at frame `at`; `end`: its last frame, where its host keeps one. category: its name."""

    at: int
    text: str
    end: int | None = None
    category: str = ""
    stored: Any = None

    @property
    def ours(self) -> bool:
        """True for one that an edit of ours has left."""
        return self.text.startswith(MARKER_PREFIX)


@dataclass(frozen=True, slots=True)
class Member:
    """A clip that a group names."""

    track: int
    start: int
    stored: Any = None

    @property
    def place(self) -> Place:
        """Where the clip begins."""
        return self.track, self.start


@dataclass(frozen=True, slots=True)
class Group:
    """Clips, and groups within it, that the editor moves together. pair: picture and sound of one clip."""

    members: tuple[Grouped, ...]
    pair: bool = False
    stored: Any = None


Grouped = Member | Group | Kept
