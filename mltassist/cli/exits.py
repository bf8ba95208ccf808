"""Exit codes of every command."""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """What a command's exit status says."""

    DONE = 0
    CHECK = 1
    """Done, but something in it needs the editor; it is named on standard error."""
    NOTHING_WRITTEN = 2
    """Nothing was written; one line on standard error says why."""
