"""What the words of a recording tell of a join: which one is cut, said twice, or left without its end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from mltassist.findings import Findings
from mltassist.frames import Span
from mltassist.joins.hear import Join
from mltassist.joins.planner.judge import Reason
from mltassist.media.words.interface import TimedWord
from mltassist.rushes.speech import Speech, find_speech, frame_said
from mltassist.timeline.cuts import CutKind, SpeechEdit

REPEATED = 3
"""Words that are looked at for a phrase said twice."""
APART_MS = 1000
"""What is said again after a longer pause is said on purpose."""
RUNS_ON_MS = 700
"""A speaker who pauses longer has stopped, whatever marks are written."""
MARKS = ".!?…"


def speech_at_joins(findings: Findings) -> Speech | None:
    """The words of the film where they can be found in its sound, else None: nothing else tells of a join."""
    return find_speech(findings) if findings.run.ears.aligner is not None else None


def with_words(joins: Iterable[Join], speech: Speech | None) -> tuple[Join, ...]:
    """The same joins, each with what its words tell of it as it now lies."""
    if speech is None:
        return tuple(joins)
    return tuple(
        replace(join, words=tuple(word_faults((join.mended or join).edit, speech))) for join in joins
    )


def word_faults(edit: SpeechEdit, speech: Speech) -> list[Reason]:
    """What is wrong with the words at a join. Only words that can be trusted, and were found in the sound."""
    if edit.kind not in (CutKind.JUMP, CutKind.CHANGE):
        return []
    rate, found = speech.rate, []
    out = edit.before.source_frame(edit.at)
    for clip, frame, told in (
        (edit.before, out, "is cut off before the join"),
        (edit.after, edit.after.source_in, "has lost its beginning"),
    ):
        if (word := speech.word_across(clip, frame)) is not None:
            found.append(Reason("word cut", 1.0, f"the word {word.text!r} {told}"))
    if edit.kind is CutKind.CHANGE:
        return found
    all_words = speech.words_of(edit.before)
    before = [w for w in all_words if frame_said(w.at_ms, rate) in Span(edit.before.source_in, out)]
    span = Span(edit.after.source_in, edit.after.source_in + edit.after.length)
    after = [w for w in all_words if frame_said(w.at_ms, rate) in span]
    if not (before and after):
        return found
    gap_ms = int(rate.seconds(out) * 1000) - before[-1].until_ms
    gap_ms += after[0].at_ms - int(rate.seconds(span.start) * 1000)
    if gap_ms <= APART_MS and (twice := _twice(before, after)):
        found.append(Reason("said twice", 1.0, f"{twice!r} is said twice across the join"))
    if _lacks_its_end(before[-1], after[0], all_words):
        quoted = " ".join(word.text for word in before[-REPEATED:])
        found.append(Reason("no end", 1.0, f"the sentence is left without its end: '... {quoted}'"))
    return found


def _twice(before: Sequence[TimedWord], after: Sequence[TimedWord]) -> str:
    """The longest phrase that ends the one side and begins the other, "" where there is none."""
    for count in range(min(REPEATED, len(before), len(after)), 0, -1):
        last, first = before[-count:], after[:count]
        if [word.text.casefold() for word in last] == [word.text.casefold() for word in first]:
            return " ".join(word.text for word in last)
    return ""


def _lacks_its_end(last: TimedWord, first: TimedWord, words: Sequence[TimedWord]) -> bool:
    """True where the speaker went on with a sentence that the film leaves for the beginning of another."""
    if not first.opens or _ends(last) or not any(_ends(word) for word in words):
        return False
    following = next((word for word in words if word.at_ms >= last.until_ms), None)
    return following is not None and not following.opens and following.at_ms - last.until_ms <= RUNS_ON_MS


def _ends(word: TimedWord) -> bool:
    return any(mark in word.after for mark in MARKS)
