"""How far lines are trusted: by themselves, and beside one another."""

from __future__ import annotations

from dataclasses import replace

from mltassist.media.words.interface import TRUSTED
from mltassist.media.words.trust import LineEvidence, odds_of, trust_in

GOOD = LineEvidence(words=9, strange=0.0, fit=-0.65, worst=-1.1, asked=True, sure=None)
LOST = LineEvidence(words=9, strange=0.0, fit=None, worst=None, asked=True, sure=None)


def test_a_long_line_that_fits_is_trusted_by_itself() -> None:
    assert trust_in([GOOD])[0] >= TRUSTED


def test_a_line_whose_words_are_not_in_the_sound_is_not_trusted_in_any_company() -> None:
    trust = trust_in([GOOD, LOST, GOOD, GOOD])
    assert trust[1] < TRUSTED <= min(trust[0], trust[2], trust[3])


def test_a_word_alone_is_not_trusted_and_is_among_lines_that_are() -> None:
    word = replace(GOOD, words=1, fit=-0.3, worst=-0.3)
    assert trust_in([word])[0] < TRUSTED
    assert trust_in([word, GOOD])[0] >= TRUSTED


def test_what_fits_by_chance_is_not_trusted_where_nothing_else_does() -> None:
    assert trust_in([LOST, LOST, GOOD, LOST])[2] < TRUSTED


def test_lines_speak_for_those_near_them() -> None:
    word = replace(GOOD, words=1, fit=-0.3, worst=-0.3)
    near, far = trust_in([word, GOOD], at_ms=[0, 19_000])[0], trust_in([word, GOOD], at_ms=[0, 21_000])[0]
    assert far == trust_in([word])[0] < TRUSTED <= near


def test_it_counts_that_the_language_is_told() -> None:
    middling = replace(GOOD, words=4, fit=-0.9, worst=-1.8)
    assert trust_in([middling])[0] < trust_in([middling], told=True)[0]


def test_better_fits_are_likelier() -> None:
    assert odds_of(GOOD) > odds_of(replace(GOOD, fit=-1.2)) > odds_of(replace(GOOD, fit=-1.2, worst=-4.0))
    assert odds_of(GOOD) > odds_of(replace(GOOD, strange=0.5))
    assert odds_of(GOOD) > odds_of(replace(GOOD, whole=False))


def test_without_an_aligner_the_engine_itself_must_be_sure() -> None:
    assert trust_in([replace(LOST, asked=False)]) == [0.0]
    assert trust_in([replace(LOST, asked=False, sure=0.7)]) == [0.7]
    assert trust_in([replace(GOOD, sure=0.2)]) == [0.2]
