"""Lines that an engine hears: what is said, its words found in the sound, and how far to trust it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
import pysubs2
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.sound.decode import read_sound
from mltassist.media.transcript import words_of
from mltassist.media.words.again import CLEAR, hearings, votes_for
from mltassist.media.words.edges import without_pauses
from mltassist.media.words.interface import WORDS_HZ, Aligner, Fit, HeardLine, Hearer, SpokenLine, TimedWord
from mltassist.media.words.letters import spoken_parts
from mltassist.media.words.phrases import halves
from mltassist.media.words.pieces import remembered_rows
from mltassist.media.words.spread import spread
from mltassist.media.words.trust import SLACK, LineEvidence, odds_of, trust_in

_VERSION = 5
_Ears = tuple[Hearer, Aligner | None]
HALVED = 5 * WORDS_HZ
"""A line as long as this whose words are not found is heard again in halves."""
SILENCE = 1e-4
"""A piece that is never louder than this (-80 dBFS) holds no words."""


def heard_in(
    path: Path, piece: Span, hearer: Hearer, aligner: Aligner | None, *, stream: int = 0, language: str = ""
) -> list[tuple[SpokenLine, LineEvidence]]:
    """The lines said in one piece of a recording, in samples at 16 kHz; remembered between runs.

    None is trusted yet: what speaks for each is told beside it, and `judged` weighs it.
    """
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
        _VERSION,
        parameters,
        lambda: list(
            _heard(
                read_sound(path, piece.start, piece.length, rate_hz=WORDS_HZ, stream=stream, mono=True)[0],
                piece.start,
                language,
                hearer,
                aligner,
            )
        ),
    )
    return [
        (
            SpokenLine(
                tuple(TimedWord(*word) for word in row["words"]),
                0.0,
                row["aligned"],
                language or row["language"],
            ),
            LineEvidence(**row["evidence"]),
        )
        for row in rows
    ]


def judged(found: Sequence[tuple[SpokenLine, LineEvidence]], *, told: bool) -> list[SpokenLine]:
    """The lines of a recording with the trust that they have beside one another; told: in what language."""
    begins = [line.words[0].at_ms for line, _ in found]
    trust = trust_in([evidence for _, evidence in found], told=told, at_ms=begins)
    return [replace(line, trust=sure) for (line, _), sure in zip(found, trust, strict=True)]


def _heard(
    mono: NDArray[np.float32], first: int, language: str, hearer: Hearer, aligner: Aligner | None
) -> Iterator[dict[str, Any]]:
    if not mono.size or float(np.abs(mono).max()) < SILENCE:
        return
    for line in hearer.hear(mono, language):
        row = _row(line, mono, first, aligner)
        if row is None:
            continue
        if row["aligned"] or not row["evidence"]["asked"] or line.span.length < HALVED:
            yield _in_doubt(row, line, mono, first, (hearer, aligner))
            continue
        # Two people at once, a laugh: one bad moment must not spoil the words around it.
        for half in halves(mono, line.span):
            for part in hearer.hear(mono[half.start : half.end], language):
                again = _row(part, mono[half.start : half.end], first + half.start, aligner, whole=False)
                if again is not None:
                    yield again


def _in_doubt(
    row: dict[str, Any], line: HeardLine, mono: NDArray[np.float32], first: int, ears: _Ears
) -> dict[str, Any]:
    """The row, or where it is in doubt that of the hearing that fits best, with the words that are sure.

    How far the line is trusted stays: of many guesses one always fits.
    """
    evidence = LineEvidence(**row["evidence"])
    if evidence.fit is None or evidence.fit >= CLEAR or odds_of(evidence) + SLACK <= 0:
        return row  # clear, or so much more likely made up that no company makes it trusted
    hearer, aligner = ears
    sound = mono[line.span.start : line.span.end]
    rows = [row]
    for text in hearings(sound, hearer, line.language):
        other = _row(replace(line, text=text, words=()), mono, first, aligner)
        rows += [] if other is None else [other]
    best = max(rows, key=lambda one: -9.0 if one["evidence"]["fit"] is None else one["evidence"]["fit"])
    texts = [[word[0] for word in one["words"]] for one in rows if one is not best]
    votes = votes_for([word[0] for word in best["words"]], texts)
    words = [[*word, count] for word, count in zip(best["words"], votes, strict=True)]
    return {**best, "words": words, "evidence": row["evidence"]}


def _row(
    line: HeardLine, mono: NDArray[np.float32], first: int, aligner: Aligner | None, *, whole: bool = True
) -> dict[str, Any] | None:
    """One line as it is remembered; None where it holds no word."""
    words = list(words_of(pysubs2.SSAEvent(start=0, end=1, text=line.text)))
    if not words:
        return None
    texts = [word.text for word in words]
    asked = aligner is not None and aligner.understands(line.language)
    fit = (
        aligner.align(mono[line.span.start : line.span.end], texts) if aligner is not None and asked else None
    )
    if fit is not None:
        found = without_pauses(fit.words, texts, mono[line.span.start : line.span.end])
        spans = tuple(span.shifted(line.span.start) for span in found)
    else:
        spans = line.words if len(line.words) == len(texts) else spread(texts, (), line.span)
    return {
        "words": [
            [word.text, _ms(first + span.start), _ms(first + span.end), word.opens, word.after]
            for word, span in zip(words, spans, strict=True)
        ],
        "aligned": fit is not None or spans is line.words,
        "language": line.language,
        "evidence": asdict(replace(_evidence(line, texts, fit, asked=asked), whole=whole)),
    }


def _evidence(line: HeardLine, texts: list[str], fit: Fit | None, *, asked: bool) -> LineEvidence:
    said = sum(len(spoken_parts(text)) for text in texts)
    if fit is None:
        return LineEvidence(said, 0.0, None, None, asked, line.sure)
    frames = [max(1, span.length * 100 // WORDS_HZ) for span in fit.words]
    letters = sum(map(len, texts))
    strange = sum(len(text) for text, known in zip(texts, fit.known, strict=True) if not known)
    worst = min(score / length for score, length in zip(fit.scores, frames, strict=True))
    return LineEvidence(said, strange / letters, sum(fit.scores) / sum(frames), worst, asked, line.sure)


def _ms(sample: int) -> int:
    return sample * 1000 // WORDS_HZ
