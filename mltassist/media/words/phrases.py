"""Sound cut into phrases, each short enough to be recognised at a time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span, joined
from mltassist.media.sound.speech import SpeechDetector, fine_levels_db, sharpened, speech_spans
from mltassist.media.words.interface import WORDS_HZ

BRIDGE = WORDS_HZ * 4 // 10
"""Shorter pauses lie within a phrase: single words are heard worse than words among others."""
LONGEST_PHRASE = 12 * WORDS_HZ
"""Longer stretches are cut where they are quietest."""
ROOM = WORDS_HZ * 3 // 20
"""Sound of the room around a phrase, as far as the next is not nearer."""
_WINDOW = WORDS_HZ // 5


def voiced(mono: NDArray[np.float32], detector: SpeechDetector) -> tuple[Span, ...]:
    """Where somebody speaks, in samples."""
    return sharpened(speech_spans(detector.probability(mono)), fine_levels_db(mono), mono.size)


def phrases(mono: NDArray[np.float32], detector: SpeechDetector) -> list[Span]:
    """Stretches of speech with a little of the room around them; they do not overlap."""
    spoken = joined(voiced(mono, detector), bridge=BRIDGE)
    found: list[Span] = []
    for number, span in enumerate(spoken):
        before = (spoken[number - 1].end + span.start) // 2 if number else 0
        after = (span.end + spoken[number + 1].start) // 2 if number + 1 < len(spoken) else mono.size
        found += _short(mono, Span(max(before, span.start - ROOM), min(after, span.end + ROOM)))
    return found


def _short(mono: NDArray[np.float32], span: Span) -> list[Span]:
    """The span, cut in two as often as it is too long."""
    if span.length <= LONGEST_PHRASE:
        return [span]
    return [short for half in halves(mono, span) for short in _short(mono, half)]


def halves(mono: NDArray[np.float32], span: Span) -> tuple[Span, Span]:
    """The span cut in two where it is quietest, away from its ends."""
    power = np.convolve(np.square(mono[span.start : span.end]), np.ones(_WINDOW, np.float32), "same")
    # Halves of much different length would need more cuts.
    first, last = span.length // 4, span.length * 3 // 4
    cut = span.start + first + int(np.argmin(power[first:last]))
    return Span(span.start, cut), Span(cut, span.end)
