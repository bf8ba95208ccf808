"""Words that the aligner left on the wrong side of a pause.

A weak word fits the noise of a pause hardly worse than its own sound, so the likeliest path may leave it
behind there: "I" of "I would", said after a breath, at the end of the sentence before. In a pause nobody says
a word: one that lies in it is sought again in the phrases beside it. And where somebody has typed lines, a
first or last word that lies apart from its line, and fits badly there, is sought with its line.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.sound.speech import FINE
from mltassist.media.words.edges import stands_out
from mltassist.media.words.interface import Fit

_PAUSE = 15
"""Blocks of FINE: within shorter silences a word is closed, and not said."""
BADLY = -3.0
"""A word with this score per 10 ms or less is hardly heard where it lies: 9 of 481 beside a pause."""
_LEAD, _TAIL = 2, 5
"""Blocks of the pauses around a phrase in which its words are sought again."""

Align = Callable[[NDArray[np.float32], Sequence[str]], Fit | None]


@dataclass(frozen=True, slots=True)
class _Heard:
    """Words and sound; loud: blocks that stand out; pauses: in blocks; begins: words that begin a line."""

    words: Sequence[str]
    mono: NDArray[np.float32]
    loud: NDArray[np.bool_]
    pauses: Sequence[Span]
    begins: Collection[int]


def with_their_phrases(
    fit: Fit, words: Sequence[str], mono: NDArray[np.float32], align: Align, begins: Collection[int] = ()
) -> Fit:
    """The same words, those that were left behind in a pause or before it moved to the phrase they are of.

    mono: the sound at 16 kHz that `words` were found in, by `align`. begins: numbers of the words that begin
    a line that somebody typed. Order, and what cannot be found beside the pause, stay as they are.
    """
    loud = stands_out(mono)
    heard = _Heard(words, mono, loud, tuple(_pauses(loud)), begins)
    for place, pause in enumerate(heard.pauses):
        last = sum(_middle(span) < _middle(pause) * FINE for span in fit.words) - 1
        for word, after in ((last, True), (last + 1, False)):
            if 0 <= word < len(words) and _strays(fit, word, heard, after=after):
                ways = (True, False) if _in_pause(fit.words[word], heard) else (after,)
                found = [one for way in ways if (one := _sought(fit, word, heard, align, place, after=way))]
                if found:
                    fit = max(found, key=lambda one: _per_block(one, word))
                    break
    return fit


def _strays(fit: Fit, word: int, heard: _Heard, *, after: bool) -> bool:
    """Whether a word beside a pause lies in it, or apart from its line; after: its line goes on after it."""
    if _in_pause(fit.words[word], heard):
        return True
    apart = word in heard.begins and word + 1 not in heard.begins
    if not after:
        apart = word + 1 in heard.begins and word not in heard.begins
    return apart and _per_block(fit, word) <= BADLY


def _sought(fit: Fit, word: int, heard: _Heard, align: Align, place: int, *, after: bool) -> Fit | None:
    """The fit with this word and its phrase found anew on one side of a pause; None where they are not."""
    pause, spans = heard.pauses[place], fit.words
    if after:
        end = (
            heard.pauses[place + 1]
            if place + 1 < len(heard.pauses)
            else Span(heard.loud.size, heard.loud.size)
        )
        sound = Span(max(0, pause.end - _LEAD) * FINE, min(heard.loud.size, end.start + _TAIL) * FINE)
        own = [n for n in range(word + 1, len(spans)) if _middle(spans[n]) < end.start * FINE]
        first, last = word, max(own, default=word)
    else:
        begin = heard.pauses[place - 1] if place else Span(0, 0)
        sound = Span(max(0, begin.end - _LEAD) * FINE, min(heard.loud.size, pause.start + _TAIL) * FINE)
        own = [n for n in range(word) if _middle(spans[n]) >= begin.end * FINE]
        first, last = min(own, default=word), word
    if first == last:
        return None
    anew = align(heard.mono[sound.start : sound.end], heard.words[first : last + 1])
    if anew is None:
        return None
    moved = tuple(span.shifted(sound.start) for span in anew.words)
    if _in_pause(moved[word - first], heard):
        return None
    return replace(
        fit,
        words=(*spans[:first], *moved, *spans[last + 1 :]),
        scores=(*fit.scores[:first], *anew.scores, *fit.scores[last + 1 :]),
    )


def _pauses(loud: NDArray[np.bool_]) -> Iterator[Span]:
    edges = np.flatnonzero(np.diff(np.concatenate([[True], loud, [True]]).astype(np.int8)))
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if end - start >= _PAUSE:
            yield Span(start, end)


def _in_pause(span: Span, heard: _Heard) -> bool:
    """Whether nothing that stands out lies in a word that takes time."""
    return span.length > 0 and not heard.loud[span.start // FINE : -(-span.end // FINE)].any()


def _per_block(fit: Fit, word: int) -> float:
    return fit.scores[word] * FINE / max(FINE, fit.words[word].length)


def _middle(span: Span) -> int:
    return (span.start + span.end) // 2
