"""Words as people read them."""

from __future__ import annotations

import itertools

from mltassist.cutaways.telling import LONGEST_SUBTITLE, subtitles, told
from mltassist.frames import Rate, Span
from mltassist.rushes.speech import Said

RATE = Rate(25, 1)


def said(text: str, at: int, *, trusted: bool = True, after: str = "") -> Said:
    return Said(text, at, 5, "ines.mp4", at, "Ines", 0.9, "en", False, trusted, after)


def test_marks_stand_behind_words_and_words_in_doubt_in_brackets() -> None:
    row = [said("My", 0), said("day", 6, after=","), said("nine", 12, trusted=False), said("to", 18)]
    assert told((word, word.trusted) for word in row) == "My day, [nine?] to"
    end = [said("nine", 0, trusted=False, after=","), said("to", 6, trusted=False, after=".")]
    assert told((word, word.trusted) for word in end) == "[nine, to?]."
    assert told([]) == ""


def test_a_subtitle_ends_with_its_sentence_and_before_a_silence() -> None:
    row = [said("Stop", 10, after="."), said("Then", 20), said("wait", 26), said("here", 80)]
    assert list(subtitles(row, RATE)) == [
        (Span(10, 15), "Stop."),
        (Span(20, 31), "Then wait"),
        (Span(80, 85), "here"),
    ]


def test_no_subtitle_is_too_long_to_read_and_none_is_lost() -> None:
    row = [said("water", 6 * number) for number in range(40)]
    found = list(subtitles(row, RATE))
    assert all(len(text) <= LONGEST_SUBTITLE for _, text in found)
    assert " ".join(text for _, text in found) == " ".join(["water"] * 40)
    assert all(a.end <= b.start for (a, _), (b, _) in itertools.pairwise(found))


def test_a_long_sentence_is_parted_at_a_mark_and_leaves_no_word_alone() -> None:
    row = [said("water", 6 * number, after="," * (number == 8)) for number in range(15)]  # 89 letters
    assert [text.count("water") for _, text in subtitles(row, RATE)] == [9, 6]
