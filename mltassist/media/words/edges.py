"""Where words beside a pause begin and end: the aligner lets them reach into the silence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.sound.speech import FINE, fine_levels_db

RISE_DB = 9.0
"""What stands so far over the quiet tenth of the line is no silence any more."""
_PAUSE = 10
"""Blocks of FINE: shorter silences lie inside words too, before b, d, g, k, p and t."""
_CLOSED = 5
"""Blocks that such a sound may be silent before it is heard; every other begins a block before its rise."""
_TAIL = 2
"""Blocks in which a word dies away."""
_LEAST = 3
FIRST = 12
"""Blocks that the weak first sound of a word lasts at most; what is longer may be a breath."""
HOLE = 3
"""Blocks of silence within such a sound."""
WEAK_DB = 15.0
"""What lies before a pause and is so much weaker than the rest of a word belongs to the word before."""
_HISSING = tuple("sz")
"""Whose own first sound is so much weaker than the vowel behind it."""
_STOPS = tuple("bcdgjkpqt")


def without_pauses(
    spans: Sequence[Span], words: Sequence[str], mono: NDArray[np.float32]
) -> tuple[Span, ...]:
    """Spans of words in mono sound at 16 kHz, none reaching into a pause beside it by more than it needs.

    Words keep their order. What dies away before a pause is left to the word before it, and a first sound
    that was taken for the pause comes back to its word; a word in which all is quiet stays as it is.
    """
    level_db = fine_levels_db(mono)
    if not level_db.size:
        return tuple(spans)
    found: list[Span] = []
    for span, word in zip(spans, words, strict=True):
        found.append(_trimmed(span, word, level_db, found[-1].end if found else 0))
    return tuple(found)


def stands_out(mono: NDArray[np.float32]) -> NDArray[np.bool_]:
    """For every FINE samples of a line at 16 kHz whether something stands out of its quiet tenth."""
    return _standing_out(fine_levels_db(mono))


def _standing_out(level_db: NDArray[np.floating[Any]]) -> NDArray[np.bool_]:
    return level_db > np.percentile(level_db, 10) + RISE_DB if level_db.size else np.zeros(0, np.bool_)


def _trimmed(span: Span, word: str, level_db: NDArray[np.floating[Any]], free_from: int) -> Span:
    loud = _standing_out(level_db)
    first, last = span.start // FINE, -(-span.end // FINE)
    heard = first + np.flatnonzero(loud[first:last])
    if not heard.size or span.length < 2 * _LEAST * FINE:
        return span
    heard = _without_tail(heard, word, level_db)
    rise, fall = int(heard[0]), int(heard[-1]) + 1
    start, end = span.start, span.end
    if rise - _quiet_before(loud, rise) >= _PAUSE:
        lead = _CLOSED if word[:1].lower().startswith(_STOPS) else 1
        start = max(start, (rise - lead) * FINE)
    elif rise == first:
        start = max(min(start, free_from), min(start, _begun(loud, first) * FINE))
    if _quiet_before(loud[::-1], loud.size - fall) <= loud.size - fall - _PAUSE:
        end = min(end, (fall + _TAIL) * FINE)
    return Span(start, end) if end - start >= _LEAST * FINE else span


def _without_tail(
    heard: NDArray[np.intp], word: str, level_db: NDArray[np.floating[Any]]
) -> NDArray[np.intp]:
    """The blocks of a word that stand out, less those before a pause in it that are much weaker."""
    if word[:1].lower() in _HISSING:
        return heard
    for place in np.flatnonzero(np.diff(heard) > _PAUSE)[::-1] + 1:
        if level_db[heard[:place]].max() <= level_db[heard[place:]].max() - WEAK_DB:
            return heard[place:]
    return heard


def _begun(loud: NDArray[np.bool_], place: int) -> int:
    """The block in which what is still heard at `place` rises, where that follows a pause."""
    rise = place
    for block in range(place - 1, max(-1, place - FIRST - 1), -1):
        if loud[block]:
            rise = block
        elif rise - block > HOLE:
            break
    quiet = rise - _quiet_before(loud, rise)
    at_line = quiet == rise and quiet >= _TAIL
    return rise if place - rise > 1 and (quiet >= _PAUSE or at_line) else place


def _quiet_before(loud: NDArray[np.bool_], place: int) -> int:
    """The first block of the silence that ends at `place`."""
    before = np.flatnonzero(loud[:place])
    return int(before[-1]) + 1 if before.size else 0
