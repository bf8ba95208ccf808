"""Words spread over a line of which only beginning and end are known: for languages without a model."""

from __future__ import annotations

import re
from collections.abc import Sequence
from unicodedata import normalize

from mltassist.frames import Span

_VOWELS = re.compile("[aeiouyæøœаеиоуыэюяєіїαεηιουωו]+")


def syllables(word: str) -> int:
    """About how many syllables a word of any language has: its groups of vowels, one at the least.

    A number counts one for each digit.
    """
    plain = "".join(c for c in normalize("NFKD", word.casefold()) if c.isalnum())
    if plain.isdigit():
        return len(plain)
    return max(1, len(_VOWELS.findall(plain)))


def spread(words: Sequence[str], voiced: Sequence[Span], line: Span) -> tuple[Span, ...]:
    """A span for every word: the voiced parts of the line shared out by syllables.

    Words follow one another within a voiced part, and none lies in a pause; where no part of the line is
    voiced the whole of it is shared out. A word across a pause lies where more of it does.
    """
    parts = [part for part in (span.shared(line) for span in voiced) if part.length > 0] or [line]
    weights = [syllables(word) for word in words]
    total = sum(part.length for part in parts)
    result, done = [], 0
    for weight in weights:
        first, last = total * done // sum(weights), total * (done + weight) // sum(weights)
        pieces = list(_placed(Span(first, last), parts))
        result.append(max(pieces, key=lambda piece: piece.length))
        done += weight
    return tuple(result)


def _placed(wanted: Span, parts: Sequence[Span]) -> list[Span]:
    """Where a stretch of the voiced time lies, the pauses put back between the parts."""
    found, before = [], 0
    for part in parts:
        shared = wanted.shared(Span(before, before + part.length))
        if shared.length > 0:
            found.append(shared.shifted(part.start - before))
        before += part.length
    return found or [Span(parts[-1].end, parts[-1].end)]
