"""Lines that an engine hears: what is said, its words found in the sound, and how far to trust it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pysubs2
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.sound.decode import read_sound
from mltassist.media.transcript import Word, words_of
from mltassist.media.words.interface import RATE_HZ, Aligner, HeardLine, Hearer, SpokenLine, TimedWord
from mltassist.media.words.pieces import remembered_rows
from mltassist.media.words.spread import spread
from mltassist.media.words.trust import Evidence, trust_in

VERSION = 1
AROUND = RATE_HZ // 4
"""Sound around a heard line in which its words are sought; engines are not exact about its ends."""
SILENCE = 1e-4
"""A piece that is never louder than this (-80 dBFS) holds no words."""


def heard_in(
    path: Path, piece: Span, hearer: Hearer, aligner: Aligner | None, *, stream: int = 0, language: str = ""
) -> list[SpokenLine]:
    """The lines said in one piece of a recording, in samples at 16 kHz; remembered between runs."""
    parameters = (
        ("start", piece.start),
        ("end", piece.end),
        ("stream", stream),
        ("language", language),
        ("hearer", hearer.name),
        ("aligner", "" if aligner is None else aligner.name),
    )
    rows = remembered_rows(
        path,
        "words heard",
        VERSION,
        parameters,
        lambda: list(
            _heard(
                read_sound(path, piece.start, piece.length, rate_hz=RATE_HZ, stream=stream, mono=True)[0],
                piece.start,
                language,
                hearer,
                aligner,
            )
        ),
    )
    trust = trust_in([Evidence(**row["evidence"]) for row in rows])
    return [
        SpokenLine(
            tuple(TimedWord(*word) for word in row["words"]),
            sure,
            row["aligned"],
            language or row["language"],
        )
        for row, sure in zip(rows, trust, strict=True)
    ]


def _heard(
    mono: NDArray[np.float32], first: int, language: str, hearer: Hearer, aligner: Aligner | None
) -> Iterator[dict[str, Any]]:
    if not mono.size or float(np.abs(mono).max()) < SILENCE:
        return
    lines = hearer.hear(mono, language)
    for number, line in enumerate(lines):
        words = list(words_of(pysubs2.SSAEvent(start=0, end=1, text=line.text)))
        if not words:
            continue
        before = lines[number - 1].span.end if number else 0
        after = lines[number + 1].span.start if number + 1 < len(lines) else mono.size
        room = Span(
            max(0, line.span.start - AROUND, min(before, line.span.start)),
            min(mono.size, line.span.end + AROUND, max(after, line.span.end)),
        )
        yield _row(mono, room, line, words, aligner, piece.start)


def _row(
    mono: NDArray[np.float32],
    room: Span,
    line: HeardLine,
    words: list[Word],
    aligner: Aligner | None,
    first: int,
) -> dict[str, Any]:
    """One line as it is remembered."""
    texts = [word.text for word in words]
    fit = None
    if aligner is not None and aligner.understands(line.language):
        fit = aligner.align(mono[room.start : room.end], texts)
    if fit is not None:
        spans = tuple(span.shifted(room.start) for span in fit.words)
    elif len(line.words) == len(words):
        spans = line.words
    else:
        spans = spread(texts, (), line.span)
    frames = sum(span.length for span in spans) * 100 // RATE_HZ
    return {
        "words": [
            [word.text, _ms(first + span.start), _ms(first + span.end), word.opens]
            for word, span in zip(words, spans, strict=True)
        ],
        "aligned": fit is not None or len(line.words) == len(words),
        "language": line.language,
        "evidence": {
            "words": texts,
            "length": line.span.length / RATE_HZ,
            "fit": None if fit is None else sum(fit.scores) / max(1, frames),
            "worst": None if fit is None else _worst(fit.scores, fit.words),
            "asked": aligner is not None and aligner.understands(line.language),
            "sure": line.sure,
        },
    }


def _worst(scores: tuple[float, ...], spans: tuple[Span, ...]) -> float:
    """The score per 10 ms of the word that fits least."""
    return min(
        score / max(1, span.length * 100 // RATE_HZ) for score, span in zip(scores, spans, strict=True)
    )


def _ms(sample: int) -> int:
    return sample * 1000 // RATE_HZ
