"""How far to trust lines that an engine heard: how well what it heard fits the sound it heard it in.

Asked about another language, or about noise, a recogniser still answers in its own, and fluently. The aligner
does not know what was heard; where the answer is made up, it cannot find its words in the sound, or finds
them badly. How much more likely a line is to be said than made up is told as log odds, and the lines of one
stretch of a recording speak for each other: hardly anybody changes the language in the middle of a talk.

The weights are those of a logistic regression on 150 lines in English (8 voices, read and spontaneous, clean,
on the telephone and by radio) and 252 lines heard in Spanish, French, Italian and Russian prompts, every line
a recording of its own; tests/bench/test_words.py looks at prompts that set no weight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

FITS = -2.0
"""Words that somebody typed are taken for found from this score per 10 ms on: of true lines 98 in 100 are."""
NOT_FOUND = -3.65
"""Log odds of a line that cannot be aligned: 2 of 150 true lines, 129 of 252 made up."""
FOUND = 0.7
"""What being found counts by itself."""
_ALWAYS, _FIT, _WORST, _STRANGE, _WORDS = 3.6, 3.4, 1.4, -1.0, 1.2
_MANY = 12
"""More words than this tell no more."""
_MOST, _EACH = 3.0, 0.7
"""No line speaks for others by more than the first, nor by more than the second for each word."""
NEEDED = 2.2
"""Log odds that all lines of a stretch must have together; two or three words alone do not."""
_TOLD = 2.0
"""What it counts that the recipe or the file names the language."""
NEAR_MS = 20_000
"""Lines that begin within this of each other speak for each other."""
SLACK = 1.0
"""A line in a stretch that can be trusted may itself be so much more likely made up: noise over a word."""


@dataclass(frozen=True, slots=True)
class LineEvidence:
    """What is known of one line that was heard.

    words: how many are in it. strange: part of its letters in words that the dictionary does not have. fit,
    worst: score per 10 ms of all words together and of the worst one, None where they were not found. asked:
    there is an aligner for its language. sure: what the engine itself thinks, None where it does not tell.
    whole: False for half of a line that was not found as a whole.
    """

    words: int
    strange: float
    fit: float | None
    worst: float | None
    asked: bool
    sure: float | None
    whole: bool = True


def odds_of(line: LineEvidence) -> float:
    """Natural log of how much more likely the line, looked at alone, is said than made up."""
    if line.fit is None or line.worst is None:
        return NOT_FOUND
    found = FOUND if line.whole else NOT_FOUND / 2
    fit, worst = max(line.fit, -3.0), max(line.worst, -6.0)
    counted = _WORDS * log(max(1, min(line.words, _MANY)))
    return found + _ALWAYS + _FIT * fit + _WORST * worst + _STRANGE * line.strange + counted


def trust_in(
    lines: Sequence[LineEvidence], *, told: bool = False, at_ms: Sequence[int] | None = None
) -> list[float]:
    """Trust, 0 to 1, in each line of a recording; told: their language is known.

    at_ms: where each begins; those that lie within NEAR_MS of a line speak for it. Without it all do.
    """
    odds = {number: odds_of(line) for number, line in enumerate(lines) if line.asked}
    voices = {
        number: max(-_MOST, min(value, _MOST, _EACH * lines[number].words)) for number, value in odds.items()
    }
    found = []
    for number, line in enumerate(lines):
        if not line.asked:
            # Nobody can say whether it fits: the engine's own word must do, and there may be none.
            found.append(0.0 if line.sure is None else line.sure)
            continue
        together = _TOLD if told else 0.0
        for other, voice in voices.items():
            if at_ms is None or abs(at_ms[other] - at_ms[number]) <= NEAR_MS:
                together += voice
        agreed = 1 / (1 + exp(-min(together - NEEDED, odds[number] + SLACK)))
        found.append(agreed if line.sure is None else min(agreed, line.sure))
    return found
