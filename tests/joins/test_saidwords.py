"""What words tell of a join: cut, said twice, left without an end; and where no mend may end."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from mltassist.frames import Rate, Span
from mltassist.joins.saidwords import word_faults
from mltassist.media.words.interface import WORDS_HZ, SpokenLine, TimedWord
from mltassist.media.words.recording import SpokenRecording as Recording
from mltassist.media.words.recording import words_of_recording
from mltassist.rushes.speech import Speech
from mltassist.timeline.cuts import CutKind, SpeechEdit
from mltassist.timeline.elements import Element
from mltassist.timeline.model import Clip, Source, SourceKind
from tests.media.words import voices

RATE = Rate(25)
TALK = Source("/talk.mov", SourceKind.FILE, Path("/talk.mov"), 1000)


def speech(*sentences: str, trust: float = 1.0, aligned: bool = True) -> Speech:
    """One word every 400 ms, each 320 ms long; a sentence follows the one before without a longer pause."""
    words, at = [], 0
    for sentence in sentences:
        for number, text in enumerate(sentence.split()):
            bare = text.rstrip(".,?")
            words.append(TimedWord(bare, at, at + 320, number == 0, text[len(bare) :]))
            at += 400
    line = SpokenLine(tuple(words), trust, aligned, "en")
    return Speech(RATE, {(TALK.key, 0): (line,)}, ())


def edit(out: int, into: int, *, kind: CutKind = CutKind.JUMP, speed: Fraction = Fraction(1)) -> SpeechEdit:
    """Source frames up to `out` are followed by those from `into` on; ten frames are a word of `speech`."""
    before = Clip(0, out, TALK, 0, "talk", speed=speed)
    after = Clip(out, 500, TALK, into, "talk", speed=speed)
    return SpeechEdit(out, 1, kind, False, into - out, before, after, Element.INTERVIEW)


def kinds(edit: SpeechEdit, speech: Speech) -> list[str]:
    return [reason.kind for reason in word_faults(edit, speech)]


MILL = ("The wheel turns all night.", "We hear the wheel long before.", "Nobody sleeps here.")
"""Words 0 to 4, 5 to 10, 11 to 13; word n begins at frame 10 n and ends at 10 n + 8."""


def test_a_cut_between_sentences_is_nothing() -> None:
    assert kinds(edit(50, 110), speech(*MILL)) == []


def test_the_word_that_is_cut_is_named() -> None:
    (before,) = word_faults(edit(14, 50), speech(*MILL))[:1]
    assert (before.kind, before.words) == ("word cut", "the word 'wheel' is cut off before the join")
    (after,) = word_faults(edit(50, 114), speech(*MILL))
    assert after.words == "the word 'Nobody' has lost its beginning"


@pytest.mark.parametrize(("frame", "cut"), [(10, False), (11, False), (12, True), (16, True), (17, False)])
def test_what_lies_at_the_edge_of_a_word_cuts_none(frame: int, cut: bool) -> None:
    # The word is said from 400 to 720 ms; frame 11 begins at 440, 12 at 480, 16 at 640, 17 at 680.
    assert ("word cut" in kinds(edit(frame, 50), speech(*MILL))) is cut


def test_a_phrase_that_is_said_twice_is_quoted() -> None:
    faults = word_faults(edit(20, 70), speech(*MILL))  # "The wheel | the wheel long before"
    assert [(fault.kind, fault.words) for fault in faults] == [
        ("said twice", "'The wheel' is said twice across the join")
    ]
    assert kinds(edit(20, 80), speech(*MILL)) == ["said twice"]  # "The wheel | wheel long before"


def test_a_sentence_without_its_end_is_told() -> None:
    (fault,) = word_faults(edit(90, 110), speech(*MILL))  # "We hear the wheel | Nobody sleeps"
    assert fault.kind == "no end"
    assert fault.words.endswith("hear the wheel'")
    # The rest of another sentence may end it.
    assert kinds(edit(70, 100), speech(*MILL)) == []


def test_without_marks_nobody_knows_where_sentences_end() -> None:
    bare = tuple(sentence.rstrip(".") for sentence in MILL)
    assert kinds(edit(90, 110), speech(*bare)) == []


def test_what_is_not_sure_tells_nothing() -> None:
    assert kinds(edit(14, 70), speech(*MILL, trust=0.4)) == []
    assert kinds(edit(14, 70), speech(*MILL, aligned=False)) == []


def test_words_that_people_and_machines_have_marked_are_named_where_they_are_cut() -> None:
    """Real models on the recordings whose words' begins are published (`voices`): a rate for each measure."""
    ears, named, told, words = voices.real_ears(), 0, 0, 0
    for spoken in (voices.arctic(), *voices.labelled()):
        lines = words_of_recording(Recording(spoken.path), [Span(0, 4 * WORDS_HZ)], ears)
        talk = Clip(0, 100, replace(TALK, path=spoken.path), 0, "talk")
        heard = Speech(Rate(100), {(TALK.key, 0): tuple(replace(line, trust=1.0) for line in lines)}, ())
        texts = spoken.text.split()
        for text, begin, end in zip(texts, spoken.begins, spoken.begins[1:], strict=False):
            cut = heard.word_across(talk, round((begin + end) * 50))
            if end - begin >= 0.2:  # shorter ones have no inside that is sure
                words += 1
                named += cut is not None and cut.text.lower() == text
            told += heard.word_across(talk, round(begin * 100)) is not None
    assert words == 9
    assert named >= 0.9 * words
    assert told == 0


def test_two_speakers_may_say_the_same() -> None:
    assert kinds(edit(20, 70, kind=CutKind.CHANGE), speech(*MILL)) == []
    assert kinds(edit(14, 70, kind=CutKind.CHANGE), speech(*MILL)) == ["word cut"]
    assert kinds(edit(14, 14, kind=CutKind.THROUGH), speech(*MILL)) == []
