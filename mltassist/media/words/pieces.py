"""A recording listened to piece by piece, each remembered: memory stays flat, and no piece is heard twice.

Pieces lie on a grid of half a minute. Where one ends and the next begins is the quietest moment around the
mark, so that hardly a word is cut; it follows from the sound alone, so that whoever asks for any part of
a recording, in whatever process, asks for the same pieces.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.cache import Analysis, remembered
from mltassist.media.sound.decode import read_sound
from mltassist.media.words.interface import WORDS_HZ

PIECE = 30 * WORDS_HZ
PIECE_REACH = 4 * WORDS_HZ
"""An edge lies at most so far from its mark."""
_WINDOW = WORDS_HZ // 5
_STEP = WORDS_HZ // 50


def pieces(path: Path, wanted: Span, stream: int = 0) -> Iterator[Span]:
    """The pieces that hold these samples at 16 kHz, in order.

    Raises SourceMissing or MediaError where the sound cannot be read.
    """
    number = max(0, (wanted.start - PIECE_REACH) // PIECE)
    start = _edge(path, stream, number)
    while start < wanted.end:
        number += 1
        end = _edge(path, stream, number)
        if end > wanted.start:
            yield Span(start, end)
        start = end


def _edge(path: Path, stream: int, number: int) -> int:
    """The sample at which piece `number` begins."""
    mark = number * PIECE
    if not number:
        return 0
    start, count = mark - PIECE_REACH, 2 * PIECE_REACH
    mono = read_sound(path, start, count, rate_hz=WORDS_HZ, stream=stream, mono=True)[0]
    power = np.concatenate([[0.0], np.cumsum(np.square(mono.astype(np.float64)))])
    starts = np.arange(0, mono.size - _WINDOW, _STEP)
    quiet = power[starts + _WINDOW] - power[starts]
    # Of moments that are as quiet, as in digital silence, the one nearest to the mark.
    nearest = np.lexsort((np.abs(starts + _WINDOW // 2 - PIECE_REACH), quiet))[0]
    return mark - PIECE_REACH + int(starts[nearest]) + _WINDOW // 2


def remembered_rows(
    path: Path,
    name: str,
    version: int,
    parameters: tuple[tuple[str, str | int | float], ...],
    compute: Callable[[], list[Any]],
) -> list[Any]:
    """Plain data (as JSON knows it) about a recording, from the cache where it was computed before."""

    def packed() -> dict[str, NDArray[Any]]:
        return {"rows": np.frombuffer(json.dumps(compute()).encode(), np.uint8)}

    kept = remembered(path, Analysis(name, version, parameters), packed)
    rows: list[Any] = json.loads(kept["rows"].tobytes())
    return rows
