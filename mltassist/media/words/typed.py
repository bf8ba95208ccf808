"""Lines that somebody typed: the cues of a transcript, their words found in the sound or spread over it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from hashlib import blake2b
from itertools import accumulate
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.speech import default_detector
from mltassist.media.transcript import Cue
from mltassist.media.words.edges import without_pauses
from mltassist.media.words.interface import WORDS_HZ, Aligner, SpokenLine, TimedWord
from mltassist.media.words.phrases import voiced
from mltassist.media.words.pieces import remembered_rows
from mltassist.media.words.sides import with_their_phrases
from mltassist.media.words.spread import spread
from mltassist.media.words.trust import FITS

_VERSION = 4
_AROUND = WORDS_HZ * 2 // 5
"""Sound around typed lines in which their words are sought: subtitles are set early and stand longer."""
TOGETHER = 20 * WORDS_HZ
"""Lines that follow one another are found together, up to this length: their own times are rough."""
GAP = WORDS_HZ


def typed_in(
    path: Path,
    cues: Sequence[Cue],
    language: str,
    aligner: Aligner | None,
    *,
    stream: int = 0,
    listening: bool = True,
) -> list[SpokenLine]:
    """The lines of these cues with every word's time; remembered between runs.

    Words that are not found in the sound are spread over what is voiced of their line; where nobody is
    listening, over the whole of it.
    """
    if not listening:
        return [_line(cue, _even(cue), language) for cue in cues]
    able = aligner if aligner is not None and aligner.understands(language) else None
    found: list[tuple[Cue, dict[str, Any]]] = []
    for together in _groups(cues):
        text = repr([(cue.at_ms, cue.until_ms, [word.text for word in cue.words]) for cue in together])
        parameters = (
            ("cues", blake2b(text.encode(), digest_size=16).hexdigest()),
            ("stream", stream),
            ("aligner", "" if able is None else able.name),
        )
        rows = remembered_rows(
            path,
            "words typed",
            _VERSION,
            parameters,
            lambda cues=together: list(_found(path, stream, cues, able)),  # type: ignore[misc]
        )
        found += zip(together, rows, strict=True)
    # A transcript that does not tell its language has that of the model that finds most of its lines.
    if able is not None and sum(row["aligned"] for _, row in found) * 2 > len(found):
        language = language or able.language
    return [_line(cue, row, language) for cue, row in found]


def _line(cue: Cue, row: dict[str, Any], language: str) -> SpokenLine:
    words = tuple(
        TimedWord(word.text, at, until, word.opens, word.after)
        for word, (at, until) in zip(cue.words, row["times"], strict=True)
    )
    return SpokenLine(words, 1.0, row["aligned"], language, cue.speaker)


def _even(cue: Cue) -> dict[str, Any]:
    spans = spread([word.text for word in cue.words], (), Span(cue.at_ms, max(cue.until_ms, cue.at_ms + 1)))
    return {"times": [[span.start, span.end] for span in spans], "aligned": False}


def _groups(cues: Sequence[Cue]) -> list[list[Cue]]:
    """Cues that follow one another without a long gap, in groups that are not too long."""
    groups: list[list[Cue]] = []
    for cue in cues:
        if groups:
            first, last = groups[-1][0], groups[-1][-1]
            near = _samples(cue.at_ms - last.until_ms) <= GAP
            if near and _samples(cue.until_ms - first.at_ms) <= TOGETHER:
                groups[-1].append(cue)
                continue
        groups.append([cue])
    return groups


def _found(path: Path, stream: int, cues: Sequence[Cue], aligner: Aligner | None) -> Iterator[dict[str, Any]]:
    start = max(0, _samples(cues[0].at_ms) - _AROUND)
    count = _samples(max(cue.until_ms for cue in cues)) + _AROUND - start
    mono = read_sound(path, start, count, rate_hz=WORDS_HZ, stream=stream, mono=True)[0]
    aligned = [None] * len(cues) if aligner is None else _aligned(mono, cues, aligner)
    speaking: tuple[Span, ...] | None = None
    for cue, spans in zip(cues, aligned, strict=True):
        told = spans
        if told is None:
            if speaking is None:
                speaking = voiced(mono, default_detector())
            line = Span(
                _samples(cue.at_ms) - start, max(_samples(cue.until_ms), _samples(cue.at_ms) + 1) - start
            )
            told = spread([word.text for word in cue.words], speaking, line)
        times = [[_ms(start + span.start), _ms(start + span.end)] for span in told]
        yield {"times": times, "aligned": spans is not None}


def _aligned(
    mono: NDArray[np.float32], cues: Sequence[Cue], aligner: Aligner
) -> list[tuple[Span, ...] | None]:
    """The words of every cue found in the sound of all; None for a cue whose words are not heard in it."""
    fit = aligner.align(mono, [word.text for cue in cues for word in cue.words])
    if fit is None:
        return [None] * len(cues)
    result: list[tuple[Span, ...] | None] = []
    texts = [word.text for cue in cues for word in cue.words]
    begins = {0, *accumulate(len(cue.words) for cue in cues)}
    fit = with_their_phrases(fit, texts, mono, aligner.align, begins)
    trimmed = without_pauses(fit.words, texts, mono)
    at = 0
    for cue in cues:
        own = trimmed[at : at + len(cue.words)]
        spans, scores = fit.words[at : at + len(cue.words)], fit.scores[at : at + len(cue.words)]
        frames = sum(span.length for span in spans) * 100 // WORDS_HZ
        result.append(own if frames and sum(scores) / frames >= FITS else None)
        at += len(cue.words)
    return result


def _samples(ms: int) -> int:
    return ms * WORDS_HZ // 1000


def _ms(sample: int) -> int:
    return sample * 1000 // WORDS_HZ
