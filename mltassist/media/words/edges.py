"""Where words beside a pause begin and end: the aligner lets them reach into the silence."""

from __future__ import annotations

from collections.abc import Sequence

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
_STOPS = tuple("bcdgjkpqt")


def without_pauses(
    spans: Sequence[Span], words: Sequence[str], mono: NDArray[np.float32]
) -> tuple[Span, ...]:
    """Spans of words in mono sound at 16 kHz, none reaching into a pause beside it by more than it needs.

    Words keep their order, and none becomes longer; a word in which all is quiet stays as it is.
    """
    loud = stands_out(mono)
    if not loud.size:
        return tuple(spans)
    return tuple(_trimmed(span, word, loud) for span, word in zip(spans, words, strict=True))


def stands_out(mono: NDArray[np.float32]) -> NDArray[np.bool_]:
    """For every FINE samples of a line at 16 kHz whether something stands out of its quiet tenth."""
    level_db = fine_levels_db(mono)
    return level_db > np.percentile(level_db, 10) + RISE_DB if level_db.size else np.zeros(0, np.bool_)


def _trimmed(span: Span, word: str, loud: NDArray[np.bool_]) -> Span:
    first, last = span.start // FINE, -(-span.end // FINE)
    heard = np.flatnonzero(loud[first:last])
    if not heard.size or span.length < 2 * _LEAST * FINE:
        return span
    rise, fall = first + int(heard[0]), first + int(heard[-1]) + 1
    start, end = span.start, span.end
    if rise - _quiet_before(loud, rise) >= _PAUSE:
        lead = _CLOSED if word[:1].lower().startswith(_STOPS) else 1
        start = max(start, (rise - lead) * FINE)
    if _quiet_before(loud[::-1], loud.size - fall) <= loud.size - fall - _PAUSE:
        end = min(end, (fall + _TAIL) * FINE)
    return Span(start, end) if end - start >= _LEAST * FINE else span


def _quiet_before(loud: NDArray[np.bool_], place: int) -> int:
    """The first block of the silence that ends at `place`."""
    before = np.flatnonzero(loud[:place])
    return int(before[-1]) + 1 if before.size else 0
