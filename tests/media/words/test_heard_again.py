"""Lines in doubt, heard again."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.words.again import hearings, votes_for
from mltassist.media.words.interface import WORDS_HZ, HeardLine


class Lengths:
    """Says how many tenths of a second it was given."""

    name = "lengths"

    def understands(self, language: str) -> bool:
        return True

    def hear(self, mono: NDArray[np.float32], language: str) -> list[HeardLine]:
        return [HeardLine(f"{mono.size * 10 // WORDS_HZ}", Span(0, mono.size), language)]


def test_a_line_is_heard_slower_and_faster_and_by_itself() -> None:
    second = np.zeros(WORDS_HZ * 9, np.float32)
    assert list(hearings(second, Lengths(), "en")) == ["100", "81", "94"]


def test_every_other_hearing_votes_for_the_words_it_has() -> None:
    words = ["a", "meal", "has", "stood", "here"]
    others = [
        ["a", "mill", "has", "stood", "here"],
        ["A", "mill", "and", "stood,", "here"],
        ["a", "meal"],
        [],
    ]
    assert votes_for(words, others) == [3, 1, 1, 2, 2]
    assert votes_for([], others) == []
