"""What a plan decides, each with its name."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Decision:
    """One thing that a plan decides, done or not.

    name: what it is about (`choices/naming.py`); the edits that carry it out bear it as `decision`.
    kind: "shot", "join", "tone", "pause", "level" or "match". at: frame of the result. about: what is done,
    in words. choice: what was chosen for it, "" where nothing was.
    """

    name: str
    kind: str
    at: int
    about: str
    choice: str = ""
