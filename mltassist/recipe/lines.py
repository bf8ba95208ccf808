"""Where a key stands in a TOML text: the parser does not say."""

from __future__ import annotations

import re
from collections.abc import Sequence


def line_of(text: str, steps: Sequence[str | int]) -> int:
    """The line to which keys and indexes lead, 0 for none.

    Each step is looked for behind the one before it, inside its table.
    """
    place, pattern = -1, re.compile("")
    for number, step in enumerate(steps):
        if isinstance(step, int):
            for _ in range(step):
                again = pattern.search(text, place + 1)
                place = again.end() - 1 if again else place
            continue
        end = re.search(r"^\s*\[", text[place + 1 :], re.MULTILINE) if number else None
        pattern = re.compile(
            rf"(?:^|[\[.{{,])[^\S\n]*[\"']?{re.escape(step)}[\"']?[^\S\n]*[=\].]", re.MULTILINE
        )
        found = pattern.search(text, max(place, 0), place + 1 + end.start() if end else len(text))
        place = found.end() - 1 if found else place
    return text.count("\n", 0, place) + 1 if place >= 0 else 0
