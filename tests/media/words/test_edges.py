"""Words beside a pause."""

from __future__ import annotations

import numpy as np

from mltassist.frames import Span
from mltassist.media.words.edges import without_pauses
from mltassist.media.words.interface import WORDS_HZ

HUNDREDTH = WORDS_HZ // 100


def sound(*loud: tuple[int, int], length: int = 200) -> np.ndarray:
    """Faint noise that is louder by 40 dB in these hundredths of a second."""
    noise = np.random.default_rng(7).normal(0, 0.001, length * HUNDREDTH).astype(np.float32)
    for start, end in loud:
        noise[start * HUNDREDTH : end * HUNDREDTH] *= 100
    return noise


def spans(*pairs: tuple[int, int]) -> list[Span]:
    return [Span(a * HUNDREDTH, b * HUNDREDTH) for a, b in pairs]


def test_a_word_begins_where_the_pause_ends() -> None:
    found = without_pauses(spans((20, 70), (70, 120)), ["we", "hear"], sound((50, 115)))
    assert abs(found[0].start - 49 * HUNDREDTH) <= 2 * HUNDREDTH
    assert found[0].end == found[1].start == 70 * HUNDREDTH


def test_a_sound_that_is_silent_at_first_keeps_its_silence() -> None:
    (found,) = without_pauses(spans((20, 90)), ["turn"], sound((50, 90)))
    assert 43 * HUNDREDTH <= found.start <= 46 * HUNDREDTH


def test_a_word_ends_where_the_pause_begins() -> None:
    (found,) = without_pauses(spans((20, 90)), ["wheel"], sound((20, 60)))
    assert abs(found.end - 62 * HUNDREDTH) <= 2 * HUNDREDTH


def test_a_short_silence_is_part_of_a_word() -> None:
    wanted = spans((20, 66), (66, 110))
    assert list(without_pauses(wanted, ["at", "ease"], sound((20, 58), (65, 110)))) == wanted


def test_what_dies_away_before_a_pause_is_of_the_word_before() -> None:
    """The tail of another word, 20 dB weaker; a hissing sound of its own is as weak, and stays."""
    tail, rest = sound((20, 30)), sound((45, 90))
    mono = tail / 10 + rest
    (found,) = without_pauses(spans((22, 90)), ["wheel"], mono)
    assert abs(found.start - 45 * HUNDREDTH) <= 2 * HUNDREDTH
    assert list(without_pauses(spans((20, 90)), ["so"], mono)) == spans((20, 90))
    assert list(without_pauses(spans((20, 90)), ["okay"], sound((20, 30), (45, 90)))) == spans((20, 90))


def test_a_first_sound_that_was_taken_for_the_pause_comes_back() -> None:
    before = spans((0, 60), (75, 110))
    mono = sound((0, 50), (66, 110))
    found = without_pauses(before, ["by", "six"], mono)
    assert abs(found[1].start - 66 * HUNDREDTH) <= 2 * HUNDREDTH
    # What is longer may be a breath, and what no pause comes before may be of another word.
    assert without_pauses(spans((90, 120)), ["six"], sound((66, 120)))[0] == spans((90, 120))[0]
    assert without_pauses(spans((0, 60), (75, 110)), ["by", "six"], sound((0, 110)))[1] == before[1]
    # Nor is anything taken from the word before.
    assert without_pauses(spans((0, 72), (75, 110)), ["by", "six"], mono)[1].start == 72 * HUNDREDTH


def test_what_is_quiet_throughout_stays() -> None:
    wanted = spans((100, 150))
    assert list(without_pauses(wanted, ["hush"], sound((0, 60)))) == wanted
    assert without_pauses([], [], np.zeros(0, np.float32)) == ()
