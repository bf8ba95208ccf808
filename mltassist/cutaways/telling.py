"""Words as people read them: with the marks behind them, those that are not sure in brackets."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Protocol

from mltassist.frames import Rate, Span
from mltassist.rushes.speech import Said

LONGEST = 84
"""Letters of a subtitle: two lines of 42, common practice."""
APART_S = 1
"""After a longer silence a new subtitle begins."""
ENDS = ".?!…"


class Word(Protocol):
    """What is told of a word."""

    @property
    def text(self) -> str:
        """The word itself."""

    @property
    def after(self) -> str:
        """Marks behind it."""


def told(words: Iterable[tuple[Word, bool]]) -> str:
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

    One ends where a sentence does, before a silence, and before it would be too long to read.
    """
    row: list[Said] = []
    for word in words:
        if row and _ends(row, word, rate):
            yield _shown(row)
            row = []
        row.append(word)
    if row:
        yield _shown(row)


def _ends(row: Sequence[Said], following: Said, rate: Rate) -> bool:
    last = row[-1]
    apart = following.at - (last.at + last.length) > rate.frames(APART_S)
    return apart or last.after[:1] in tuple(ENDS) or len(_shown([*row, following])[1]) > LONGEST


def _shown(row: Sequence[Said]) -> tuple[Span, str]:
    return Span(row[0].at, row[-1].at + row[-1].length), told((word, word.trusted) for word in row)
