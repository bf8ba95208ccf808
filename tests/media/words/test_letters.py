"""Sounds of words that no dictionary has, and numbers as they are said."""

from __future__ import annotations

import re

import pytest

from mltassist.media.words.letters import alike, number_words, sounds_of, spoken_parts

# The 39 phones of the CMU Pronouncing Dictionary (its list of symbols, from memory).
PHONES = set(
    re.findall(
        r"\w+",
        "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH "
        "K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH",
    )
)


@pytest.mark.parametrize(
    ("digits", "said"),
    [
        ("0", "zero"),
        ("7", "seven"),
        ("21", "twenty one"),
        ("140", "one hundred forty"),
        ("1066", "one thousand sixty six"),
        ("1908", "nineteen oh eight"),
        ("1984", "nineteen eighty four"),
        ("1900", "nineteen hundred"),
        ("2024", "two thousand twenty four"),
        ("12000", "twelve thousand"),
        ("007", "zero zero seven"),
    ],
)
def test_numbers_are_said_as_people_mostly_say_them(digits: str, said: str) -> None:
    assert " ".join(number_words(digits)) == said


def test_every_number_of_up_to_six_digits_has_words() -> None:
    assert all(number_words(str(number)) for number in (*range(2101), 99_999, 100_000, 999_999))
    assert len({" ".join(number_words(str(number))) for number in range(2101)}) == 2101


def test_written_words_become_the_words_that_are_said() -> None:
    assert spoken_parts("mill-wheel") == ["mill", "wheel"]
    assert spoken_parts("Miller’s") == ["miller's"]
    assert spoken_parts("café") == ["cafe"]
    assert spoken_parts("no7") == ["no", "seven"]
    assert spoken_parts("—") == []


def test_a_name_is_read_off_its_letters() -> None:
    assert sounds_of("saltreed") == "S AE L T R IY D"
    assert sounds_of("kettering") == "K EH T ER IH NG"
    assert sounds_of("") == ""
    assert all(set(sounds_of(word).split()) <= PHONES for word in ("wren", "calder", "xylo", "quay", "brigg"))


def test_words_of_one_sound_that_is_easily_misheard_are_alike() -> None:
    assert alike("M IH L", "M IY L")
    assert alike("B OW T", "P OW T")
    assert not alike("M IH L", "M IH L")
    assert not alike("M IH L", "HH IH L")
    assert not alike("M IH L", "B IY L")
    assert not alike("M IH L", "M IY L Z")
