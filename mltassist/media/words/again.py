"""A line in doubt, heard again a little slower and faster: the hearing that fits its sound best.

What a recogniser hears of a clear voice stays the same however it is asked; where it guesses, each asking
gives another guess. The aligner, which knows nothing of them, tells which fits best; and a word that hardly
any other hearing has is not sure. Of three voices made by a machine 99 of 501 words were wrong in the first
hearing; of those that are sure in the best, 23 of 403. The figures below were set on these.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher

import numpy as np
from numpy.typing import NDArray

from mltassist.media.words.interface import WORDS_HZ, Hearer
from mltassist.media.words.letters import spoken_parts

CLEAR = -0.7
"""A line with this score per 10 ms or more is clear: nearly all lines that people read are."""
SPEEDS = (0.9, 1.1)
_AROUND = WORDS_HZ // 5
"""Silence put around the line for one more hearing."""


def hearings(mono: NDArray[np.float32], hearer: Hearer, language: str) -> Iterator[str]:
    """What is heard in the sound of one line (n,) at 16 kHz when it is slower, faster, or stands alone."""
    silence = np.zeros(_AROUND, np.float32)
    for sound in (*(_at_speed(mono, speed) for speed in SPEEDS), np.concatenate([silence, mono, silence])):
        yield " ".join(line.text for line in hearer.hear(sound, language))


def _at_speed(mono: NDArray[np.float32], speed: float) -> NDArray[np.float32]:
    """The sound so much faster, its pitch with it."""
    places = np.arange(int(mono.size / speed)) * speed
    warped = np.interp(places, np.arange(mono.size), mono)
    return np.asarray(warped, np.float32)


def votes_for(words: Sequence[str], others: Sequence[Sequence[str]]) -> list[int]:
    """For each word how many of the other hearings have it at its place."""
    plain = [" ".join(spoken_parts(word)) for word in words]
    votes = [0] * len(plain)
    for other in others:
        theirs = [" ".join(spoken_parts(word)) for word in other]
        for first, _, count in SequenceMatcher(None, plain, theirs, autojunk=False).get_matching_blocks():
            for place in range(first, first + count):
                votes[place] += 1
    return votes
