"""Words as people read them: with the marks behind them, those that are not sure in brackets."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Protocol

from mltassist.frames import Rate, Span
from mltassist.rushes.speech import Said

LONGEST_SUBTITLE = 84
"""Letters of a subtitle: two lines of 42, common practice."""
_APART_S = 1
"""After a longer silence a new subtitle begins."""
ENDS = ".?!…"


class ToldWord(Protocol):
    """What is told of a word."""

    @property
    def text(self) -> str:
        """The word itself."""

    @property
    def after(self) -> str:
        """Marks behind it."""


def told(words: Iterable[tuple[ToldWord, bool]]) -> str:
    """Words with whether each is sure, as one text; those that are not, in brackets with a question mark.

    The marks behind the last of them stand behind the bracket.
    """
    parts = []
    for sure, pairs in groupby(words, key=lambda pair: pair[1]):
        row = [word for word, _ in pairs]
        text, marks = " ".join(word.text + word.after for word in row), row[-1].after
        parts.append(text if sure else f"[{text.removesuffix(marks)}?]{marks}")
    return " ".join(parts)


def subtitles(words: Sequence[Said], rate: Rate) -> Iterator[tuple[Span, str]]:
    """The words of one bite as subtitles: frames of the timeline from word to word, and the text.

    One ends where a sentence does and before a silence; what would be too long to read is parted evenly.
    """
    row: list[Said] = []
    for word in words:
        if row and _ends(row[-1], word, rate):
            yield from _parted(row)
            row = []
        row.append(word)
    if row:
        yield from _parted(row)


def _ends(last: Said, following: Said, rate: Rate) -> bool:
    apart = following.at - (last.at + last.length) > rate.frames(_APART_S)
    return apart or last.after[:1] in tuple(ENDS)


def _parted(row: Sequence[Said]) -> Iterator[tuple[Span, str]]:
    """The row as one subtitle, or as two halves of it, parted at a mark where one is near the middle."""
    whole = _shown(row)
    if len(whole[1]) <= LONGEST_SUBTITLE or len(row) == 1:
        yield whole
        return
    places = range(1, len(row))
    half = sum(len(word.text) + 1 for word in row) / 2
    ahead = [sum(len(word.text) + 1 for word in row[:place]) for place in places]
    # A mark is worth a quarter of the row.
    best = min(places, key=lambda n: abs(ahead[n - 1] - half) - (half / 2 if row[n - 1].after else 0))
    yield from _parted(row[:best])
    yield from _parted(row[best:])


def _shown(row: Sequence[Said]) -> tuple[Span, str]:
    return Span(row[0].at, row[-1].at + row[-1].length), told((word, word.trusted) for word in row)
