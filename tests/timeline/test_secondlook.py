"""Negations, numbers and names among words that were left out."""

from __future__ import annotations

import pytest

from mltassist.timeline.secondlook import is_condition, is_negation, is_number, second_looks


@pytest.mark.parametrize(
    ("word", "language"),
    [
        ("Never", "en"),
        ("isn’t", "en"),
        ("kein", "de"),
        ("jamais", "fr"),
        ("nadie", "es"),
        ("senza", "it"),
        ("not", ""),
    ],
)
def test_words_that_deny_are_known(word: str, language: str) -> None:
    assert is_negation(word, language)


def test_a_word_denies_in_its_own_language_only() -> None:
    assert not is_negation("sin", "en")  # Spanish: without
    assert not is_number("once", "en")  # Spanish: eleven
    assert is_number("once", "es")
    assert is_number("once", "")


def test_numbers_are_digits_or_words() -> None:
    assert [is_number(word, "en") for word in ("1984", "twenty-one", "3D", "water", "one")] == [
        True,
        True,
        True,
        False,
        False,
    ]


def test_what_narrows_a_sentence_is_known_in_its_language() -> None:
    assert [is_condition(word, "en") for word in ("If", "only", "but", "si")] == [True, True, False, False]
    assert is_condition("si", "fr")
    assert is_condition("Falls", "de")


def test_each_kind_is_told_once() -> None:
    assert second_looks(["no", "not", "Saltreed"], [False, False, True], "en") == ("negation", "name")
    assert second_looks(["only", "if"], [False, False], "en") == ("condition",)
    assert second_looks([], [], "en") == ()
