"""What words tell of joins where nobody typed them: how often it is right, a rate for each measure.

The two long interviews of the example film, in voices of a machine that recognisers mishear. What they say
and when is taken from their transcripts, aligned to the sound; the joins are judged by what is heard. Each
kind of edit is made at every place that allows it, at 25 frames a second. Run with -s to see the figures.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import platformdirs
import pytest

from mltassist.frames import Rate, Span
from mltassist.joins.saidwords import word_faults
from mltassist.media.words.interface import WORDS_HZ, TimedWord
from mltassist.media.words.recording import SpokenRecording as Recording
from mltassist.media.words.recording import words_of_recording
from mltassist.rushes.speech import Speech, frame_said
from mltassist.timeline.cuts import CutKind, SpeechEdit
from mltassist.timeline.elements import Element
from mltassist.timeline.model import Clip, Source, SourceKind
from tests.docs.pages import FILM
from tests.media.words import voices

RATE = Rate(25)
LENGTH = 2500
MIDDLE_MS = 240
"""Words that last as long have an inside that is sure."""
SENTENCES_FROM = 3
"""The join goes on with a sentence so many further on."""


@dataclass(frozen=True, slots=True)
class Talk:
    """A recording: its sentences as typed, with the times of their words, and what is heard in it."""

    source: Source
    sentences: tuple[tuple[TimedWord, ...], ...]
    heard: Speech

    def faults(self, out: int, into: int) -> list[str]:
        """Kinds of faults that are told where these milliseconds of the recording meet."""
        first, then = frame_said(out, RATE), frame_said(into, RATE)
        before = Clip(0, first, self.source, 0, "talk")
        after = Clip(first, LENGTH - then, self.source, then, "talk")
        edit = SpeechEdit(first, 1, CutKind.JUMP, False, then - first, before, after, Element.INTERVIEW)
        return [fault.kind for fault in word_faults(edit, self.heard)]


@pytest.fixture(scope="module")
def talks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Talk]]:
    ears = voices.real_ears()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MLTASSIST_CACHE", str(platformdirs.user_cache_path("mltassist-tests") / "words heard"))
        patch.delenv("MLTASSIST_WORDS", raising=False)
        yield [_talk(FILM / "media/interview" / f"{name}.mp4", ears) for name in ("ines", "tobias")]


def _talk(path: Path, ears: voices.Ears) -> Talk:
    whole = [Span(0, LENGTH * WORDS_HZ // 25)]
    typed = words_of_recording(Recording(path), whole, ears)
    # A copy that lies beside no transcript.
    apart = Path(platformdirs.user_cache_path("mltassist-tests")) / f"untyped {path.name}"
    if not apart.exists():
        apart.write_bytes(path.read_bytes())
    heard = words_of_recording(Recording(apart), whole, ears)
    source = Source(str(path), SourceKind.FILE, path, LENGTH)
    return Talk(source, tuple(line.words for line in typed), Speech(RATE, {(source.key, 0): heard}, ()))


def _middle(before: TimedWord, after: TimedWord) -> int:
    return (before.until_ms + after.at_ms) // 2


def _places(talk: Talk) -> Iterator[tuple[str, int, int]]:
    """Edits by what is wrong with them: the milliseconds up to which, and from which on, it is played."""
    for number, sentence in enumerate(talk.sentences[1:-SENTENCES_FROM], 1):
        last = talk.sentences[number + SENTENCES_FROM - 1][-1]
        later = _middle(last, talk.sentences[number + SENTENCES_FROM][0])
        yield "nothing", _middle(sentence[-1], talk.sentences[number + 1][0]), later
        for word in sentence:
            if word.until_ms - word.at_ms >= MIDDLE_MS:
                yield "word cut", (word.at_ms + word.until_ms) // 2, later
        for place in range(2, len(sentence) - 2):
            out = _middle(sentence[place], sentence[place + 1])
            yield "said twice", out, _middle(sentence[place - 2], sentence[place - 1])
            yield "no end", out, later


def test_each_measure_has_its_rate(talks: list[Talk]) -> None:
    made: Counter[str] = Counter()
    found: Counter[tuple[str, str]] = Counter()
    for talk in talks:
        for wrong, out, into in _places(talk):
            made[wrong] += 1
            found.update((wrong, kind) for kind in set(talk.faults(out, into)))
    for wrong, count in made.items():
        rates = ", ".join(f"{kind} {found[wrong, kind] / count:.0%}" for kind in made if kind != "nothing")
        sys.stdout.write(f"\n{wrong}: {count} edits, told as {rates}")
    assert min(made.values()) >= 15
    # What is told of an edit between sentences is wrong; of the others most is found.
    for kind in ("word cut", "said twice", "no end"):
        assert found["nothing", kind] <= 0.05 * made["nothing"]
        assert found[kind, kind] >= 0.6 * made[kind]
