"""Words spread over what is voiced of a line."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from mltassist.frames import Span
from mltassist.media.words.spread import spread, syllables


def test_syllables_are_counted_in_any_alphabet() -> None:
    # Counted by hand.
    words = {"wheel": 1, "water": 2, "Mühle": 2, "мельница": 3, "νερό": 2, "b": 1, "42": 2, "árbol": 2}
    assert {word: syllables(word) for word in words} == words


def test_a_long_word_takes_longer_than_a_short_one() -> None:
    assert spread(["a", "banana"], (), Span(0, 400)) == (Span(0, 100), Span(100, 400))


def test_no_word_lies_in_a_pause() -> None:
    voiced = (Span(100, 200), Span(700, 900))
    assert spread(["ein", "zwei", "drei"], voiced, Span(0, 1000)) == (
        Span(100, 200),
        Span(700, 800),
        Span(800, 900),
    )


def test_only_what_is_voiced_within_the_line_counts() -> None:
    assert spread(["yes"], (Span(0, 50), Span(90, 300)), Span(80, 200)) == (Span(90, 200),)


@given(
    words=st.lists(st.text("abeiou", min_size=1, max_size=8), min_size=1, max_size=12),
    edges=st.lists(st.integers(0, 3000), max_size=12, unique=True),
)
def test_words_follow_one_another_within_the_line(words: list[str], edges: list[int]) -> None:
    marks = sorted(edges)
    voiced = [Span(a, b) for a, b in zip(marks[::2], marks[1::2], strict=False)]
    line = Span(500, 2500)
    found = spread(words, voiced, line)
    assert len(found) == len(words)
    assert all(line.start <= span.start <= span.end <= line.end for span in found)
    assert all(a.end <= b.start or a == b for a, b in pairwise(found))
