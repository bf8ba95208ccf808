"""Words that a film does not play: who is asked for them, and what of the answer is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from mltassist.findings import Findings, Run
from mltassist.frames import Span
from mltassist.media.words.interface import WORDS_HZ, SpokenLine, TimedWord
from mltassist.media.words.recording import DEAF, Ears
from mltassist.page.cutwords import cut_words
from mltassist.recipe.rules import Recipe
from mltassist.rushes import speech
from mltassist.timeline.elements import find_elements
from mltassist.timeline.model import Clip
from tests.timeline.films import clip, row, timeline, track

WHO = object()


def film(ears: Ears) -> Findings:
    spoken = timeline(track(1, "Interview", row(("ines.mp4", 100, 0))))
    run = Run(Recipe())
    run.__dict__["ears"] = ears
    return Findings(spoken, find_elements(spoken, Recipe().vocabulary()), run)


@pytest.fixture
def answered(monkeypatch) -> list[list[Span]]:
    """What is asked for. A word is said each second; odd lines are not trusted, each fourth word not sure."""
    asked: list[list[Span]] = []

    def words(source, wanted, ears):
        asked.append(list(wanted))
        for number in range(400):
            word = TimedWord(f"w{number}", number * 1000, number * 1000 + 500, votes=3 if number % 4 else 0)
            yield SpokenLine((word,), 0.2 if number % 2 else 1.0)

    monkeypatch.setattr(speech, "words_of_recording", lambda *given: tuple(words(*given[:3])))
    return asked


def spoken(file: str = "ines.mp4") -> Clip:
    made = clip(file, 0, 100, 0)
    return replace(made, source=replace(made.source, path=Path("nowhere") / file))


def test_without_ears_and_without_a_transcript_nobody_is_asked(answered) -> None:
    assert cut_words(film(DEAF))(spoken(), Span(100, 200)) == ()
    assert answered == []


def test_what_was_heard_for_sure_between_two_bites_is_told(answered) -> None:
    findings = film(Ears(hearer=WHO))
    rate = findings.timeline.rate
    told = cut_words(findings)(spoken(), Span(rate.frames(3), rate.frames(11)))
    assert [word.text for word in told] == ["w6", "w10"]
    ((asked,),) = answered
    assert (asked.start, asked.end) == (2 * WORDS_HZ, 12 * WORDS_HZ)


def test_of_a_long_cut_the_ends_are_listened_to(answered) -> None:
    findings = film(Ears(hearer=WHO))
    rate = findings.timeline.rate
    told = cut_words(findings)(spoken(), Span(rate.frames(100), rate.frames(200)))
    assert {int(word.text[1:]) // 20 for word in told} == {5, 9}
    assert sum(span.length for span in answered[0]) == 44 * WORDS_HZ


def test_nothing_is_asked_of_no_frames_and_of_no_file(answered) -> None:
    ask = cut_words(film(Ears(hearer=WHO)))
    assert ask(spoken(), Span(100, 100)) == ()
    assert ask(replace(spoken(), source=replace(spoken().source, path=None)), Span(0, 50)) == ()
    assert answered == []
