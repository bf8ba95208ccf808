"""Where a key stands in a TOML text: the parser does not say."""

from __future__ import annotations

import re

_STEPS = re.compile(r"\['([^']*)'\]|\[(\d+)\]|([^.\[\]]+)")


def steps_of(path: str) -> list[str]:
    """The keys and indexes of a path such as ``pauses[1].length_s`` or ``pins['A*']``."""
    return [named or number or plain for named, number, plain in _STEPS.findall(path)]


def line_of(text: str, steps: list[str]) -> int:
    """Line of a key: each step is looked for behind the one before it, inside its table."""
    place, pattern = -1, None
    for number, step in enumerate(steps):
        if step.isdigit() and pattern is not None:
            for _ in range(int(step)):
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
