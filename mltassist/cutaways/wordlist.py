"""What is said in a film, what was cut between, where in the rushes something is said."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence, Set
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import pysubs2

from mltassist.cutaways.hidden import CAUTION, Removed, removed_words
from mltassist.cutaways.planner.words import word_stem
from mltassist.cutaways.telling import subtitles, told
from mltassist.errors import MediaError
from mltassist.findings import Findings, StageProgress, plan_of, speech_clips
from mltassist.frames import Rate, Span
from mltassist.media.words.aligner import sounding_like
from mltassist.media.words.engine import NoEngine, is_english
from mltassist.media.words.interface import WORDS_HZ, SpokenLine
from mltassist.media.words.recording import SpokenRecording, words_of_recording
from mltassist.plans import Note, Plan
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.rushes.balance import Balance, find_balance
from mltassist.rushes.find import begin, find
from mltassist.rushes.speech import STAGE, Said, Speech, find_speech, frame_said, note_unheard
from mltassist.timeline.edits import MarkClip
from mltassist.timeline.elements import Element
from mltassist.timeline.model import BinClip, Clip

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*")
_MARKED = 120
"""Letters of a line that a marker quotes."""
SILENT = (Element.MUSIC, Element.CUTAWAY)
"""Recordings in which nobody looks for words."""


@dataclass(frozen=True, slots=True)
class SpokenClip:
    """A clip of speech with the words it plays; unsure: some are not trusted, and in brackets."""

    at: int
    length: int
    speaker: str
    text: str
    unsure: bool


@dataclass(frozen=True, slots=True)
class Place:
    """Where something is said in the rushes: a frame of a recording, and the whole line.

    alike: the words that were heard there, where they are others than those looked for and sound the same.
    heard: nobody typed the line.
    """

    clip: str
    source: str
    source_in: int
    text: str
    alike: str = ""
    heard: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Plain data, in the form of docs/formats.md."""
        return {
            "clip": self.clip,
            "source": self.source,
            "source_in": self.source_in,
            "text": self.text,
            "sounds_like": self.alike,
            "heard": self.heard,
        }


@dataclass(frozen=True)
class Words:
    """The words of a film. removed: None where it was not asked for; found: of what was looked for."""

    project: Path
    rate: Rate
    bites: tuple[SpokenClip, ...]
    said: tuple[Said, ...]
    balance: Balance
    removed: tuple[Removed, ...] | None = None
    found: tuple[Place, ...] | None = None
    subtitles: tuple[tuple[Span, str], ...] = field(default=())
    """What is said, in pieces that can be read: frames of the timeline, and the text."""
    notes: tuple[Note, ...] = field(default=())
    plan: Plan | None = None
    """Markers at what was found, on clips of the bin, where they were asked for and the bin holds any."""

    def as_dict(self) -> dict[str, Any]:
        """Plain data, in the form of docs/formats.md."""
        return {
            "version": 2,
            "project": str(self.project),
            "rate": [self.rate.numerator, self.rate.denominator],
            "words": [word.as_dict() for word in self.said],
            "removed": None if self.removed is None else [edit.as_dict() for edit in self.removed],
            "caution": "" if self.removed is None else CAUTION,
            "found": None if self.found is None else [place.as_dict() for place in self.found],
            "balance": self.balance.as_dict(),
            "notes": [asdict(note) for note in self.notes],
        }

    def as_srt(self) -> str:
        """What is said as subtitles of the film, unsure words in brackets with a question mark."""
        lines = pysubs2.SSAFile()
        for span, text in self.subtitles:
            start, end = (int(self.rate.seconds(frame) * 1000) for frame in (span.start, span.end))
            lines.append(pysubs2.SSAEvent(start=start, end=end, text=text))
        return lines.to_string("srt")


def words(
    project: Project,
    *,
    recipe: Recipe | None = None,
    removed: bool = False,
    find_text: str = "",
    mark: bool = False,
    no_words: bool = False,
    on_progress: StageProgress | None = None,
) -> Words:
    """What is said in a film, bite by bite.

    removed: also what was cut between two bites of one recording. find_text: where in the rushes, of the bin
    and of the film, these words are said, in any of their forms. mark: plan markers there, on the clips of
    the bin. no_words: nothing is listened to; transcripts count.
    """
    findings = find(project.timeline, begin(project.timeline, recipe, on_progress, no_words=no_words))
    speech = find_speech(findings, between=removed)
    note_unheard(findings, speech)
    found = tuple(places(findings, find_text)) if find_text.strip() else None
    edits = tuple(_marks(project, findings, found or (), find_text)) if mark else ()
    played = tuple(_played(findings, speech))
    return Words(
        project.path,
        project.timeline.rate,
        tuple(_bite(clip, own) for clip, own in played),
        speech.said,
        find_balance(findings),
        removed_words(findings, speech) if removed else None,
        found,
        tuple(shown for _, own in played for shown in subtitles(own, project.timeline.rate)),
        tuple(findings.notes),
        plan_of("words", project, edits, findings, {}) if edits else None,
    )


def _played(findings: Findings, speech: Speech) -> Iterator[tuple[Clip, list[Said]]]:
    """Every clip of speech with the words it plays, in the order of the film."""
    for clip in sorted((c for _, c in speech_clips(findings)), key=lambda c: (c.start, c.source.key)):
        yield clip, [w for w in speech.said if w.at in clip.span and w.source == clip.source.key]


def _bite(clip: Clip, own: Sequence[Said]) -> SpokenClip:
    speaker = own[0].speaker if own else clip.name
    text = told((word, word.trusted) for word in own)
    return SpokenClip(clip.start, clip.length, speaker, text, any(not word.trusted for word in own))


def places(findings: Findings, text: str) -> Iterator[Place]:
    """Lines of recordings, of bin and film, in which all these words are said one after the other.

    Behind them those that nobody typed, in which words are heard that sound the same.
    """
    yield from sorted(_places(findings, text), key=lambda place: bool(place.alike))


def _places(findings: Findings, text: str) -> Iterator[Place]:
    rate, language = findings.timeline.rate, findings.recipe.speech.language
    # Plain documents have no bin, and others may lay what is not in theirs.
    laid = (clip for track in findings.timeline.tracks for clip in track.clips())
    shot: tuple[BinClip | Clip, ...] = (*laid, *findings.timeline.bin)
    named = {clip.source.key: clip for clip in shot}
    clips = tuple(clip for clip in named.values() if _may_speak(findings, clip))
    for clip in findings.run.each(STAGE, clips):
        assert clip.source.path is not None  # noqa: S101 - looked at in _may_speak
        source = SpokenRecording(clip.source.path, Path(clip.source.key), language=language)
        whole = Span(0, rate.samples(clip.source.length, WORDS_HZ))
        try:
            lines = words_of_recording(source, [whole], findings.run.ears)
        except (MediaError, NoEngine) as problem:
            findings.note(str(problem))
            continue
        unread = source.transcript() is None
        for line in (one for one in lines if one.trusted):
            written = position(line, text)
            heard = alike_in(line, text) if written is None and unread else Span(0, 0)
            if written is None and not heard.length:
                continue
            first = heard.start if written is None else written
            quoted = told((word, word.sure) for word in line.words)
            alike = " ".join(word.text for word in line.words[heard.start : heard.end])
            at = frame_said(line.words[first].at_ms, rate)
            yield Place(clip.name, clip.source.key, at, quoted, alike, unread)


def _marks(project: Project, findings: Findings, found: Sequence[Place], text: str) -> Iterator[MarkClip]:
    """A marker for every place; none, and a note, where the bin of the project holds no markers."""
    if found and not project.host.marks_clips:
        findings.note(f"clips in the bin of this {project.host.name} document take no markers: none are left")
        return
    in_the_bin = {clip.source.key for clip in findings.timeline.bin}
    for place in (one for one in found if one.source in in_the_bin):
        quoted = place.text if len(place.text) <= _MARKED else place.text[: _MARKED - 1].rstrip() + "…"
        said = f"sounds like {text}" if place.alike else "said"
        yield MarkClip(place.source, place.source_in, f"{said}: {quoted}", f"found: {text}")


def _may_speak(findings: Findings, clip: BinClip | Clip) -> bool:
    path = clip.source.path
    element = findings.elements.of_source(clip.source.key)
    return path is not None and path.exists() and clip.source.has_sound and element not in SILENT


def position(line: SpokenLine, text: str) -> int | None:
    """At which word of a line a phrase begins, its words in any form; None where it is not said."""
    wanted = [{word_stem(one, line.language)} for one in _WORD.findall(text)]
    said = [[word_stem(one, line.language) for one in _WORD.findall(word.text)] for word in line.words]
    found = _in_a_row(wanted, said)
    return found.start if found.length else None


def alike_in(line: SpokenLine, text: str) -> Span:
    """Words of an English line that have the same sounds as a phrase; empty where none have."""
    if not is_english(line.language):
        return Span(0, 0)
    wanted = [_plain(one) for one in _WORD.findall(text)]
    said = [[_plain(one) for one in _WORD.findall(word.text)] for word in line.words]
    alike = sounding_like(wanted)
    return _in_a_row([{one, *alike[one]} for one in wanted], said)


def _plain(word: str) -> str:
    return word.casefold().replace("’", "'")


def _in_a_row(wanted: Sequence[Set[str]], said: Sequence[Sequence[str]]) -> Span:
    """The first words of a line, each in its parts, that are one after the other what is wanted."""
    flat = [(part, number) for number, parts in enumerate(said) for part in parts]
    for first in range(len(flat) - len(wanted) + 1):
        row = flat[first : first + len(wanted)]
        if wanted and all(part in one for one, (part, _) in zip(wanted, row, strict=True)):
            return Span(row[0][1], row[-1][1] + 1)
    return Span(0, 0)
