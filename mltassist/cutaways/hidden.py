"""What was taken out between bites, and which of these edits the viewer cannot see."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterable, Iterator, Sequence, Set
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import pysubs2

from mltassist.cutaways.planner.words import Spoken, is_name
from mltassist.cutaways.telling import told
from mltassist.findings import Findings, speech_clips
from mltassist.frames import Rate, Span, format_timecode, joined
from mltassist.media.words.interface import TimedWord
from mltassist.rushes.speech import Speech, frame_said
from mltassist.timeline.cuts import CutKind, SpeechEdit, never_played, speech_edits
from mltassist.timeline.model import Clip
from mltassist.timeline.picture import Showing, showing
from mltassist.timeline.secondlook import second_looks

_AROUND = 6
"""Words told before and after an edit: enough to hear the sentence in mind."""
CAUTION = (
    "whether what is left is fair to the person who spoke, the full interview decides, "
    "and the rules of your house"
)


@dataclass(frozen=True, slots=True)
class Removed:
    """An edit at which something was taken out of a recording, or its order turned.

    text: what was said there and the film plays nowhere, words that are not sure in brackets (see `told`).
    at: frame of the timeline. gone: frames of `source` that are passed over there and that the film plays
    nowhere. hidden: another picture lies over the edit, `shot`. looks: what asks for a second look, see
    `second_looks`. heard: the words left out are known; without it `text` says nothing about them. moved:
    all that was said there is played at another place.
    """

    at: int
    speaker: str
    before: str
    text: str
    after: str
    source: str
    gone: tuple[Span, ...]
    turned: bool
    hidden: bool
    shot: str
    looks: tuple[str, ...]
    heard: bool
    moved: bool

    @property
    def frames(self) -> int:
        """How many source frames are left out."""
        return sum(span.length for span in self.gone)

    def as_dict(self) -> dict[str, Any]:
        """Plain data, in the form of docs/formats.md."""
        return {
            "at": self.at,
            "text": self.text,
            "frames": self.frames,
            "order": "turned" if self.turned else "kept",
            "speaker": self.speaker,
            "before": self.before,
            "after": self.after,
            "hidden": self.hidden,
            "shot": self.shot,
            "second_look": list(self.looks),
            "words_known": self.heard,
            "played_elsewhere": self.moved,
        }


def removed_words(findings: Findings, speech: Speech) -> tuple[Removed, ...]:
    """Every edit at which one recording jumps, in order, with what was said in between."""
    shown = showing(findings.timeline, ours=True)
    edits = speech_edits(findings.timeline, findings.elements, ours=True)
    played = {(word.source, word.source_in, word.text) for word in speech.said}
    clips = [clip for _, clip in speech_clips(findings)]
    return tuple(
        _removed(edit, speech, played, shown, never_played(edit, clips))
        for edit in edits
        if edit.kind is CutKind.JUMP
    )


def _removed(
    edit: SpeechEdit,
    speech: Speech,
    played: Set[tuple[str, int, str]],
    shown: Sequence[Showing],
    gone: tuple[Span, ...],
) -> Removed:
    first = edit.before.source_frame(edit.at)
    source = edit.before.source.key
    # What the film plays at another place was moved, and not left out.
    there = list(_between(speech, edit.before, Span(first, first + max(0, edit.removed))))
    left_out = [
        (word, sure)
        for word, sure in there
        if (source, frame_said(word.at_ms, speech.rate), word.text) not in played
    ]
    language = speech.language_of(edit.before)
    names = [is_name(Spoken(word.text, 0, language, opens=word.opens)) for word, _ in left_out]
    texts = [word.text for word, _ in left_out]
    before = [
        w for w in speech.said if edit.before.start <= w.at < edit.at and w.source == edit.before.source.key
    ]
    after = [
        w
        for w in speech.said
        if edit.at <= w.at < edit.after.start + edit.after.length and w.source == edit.after.source.key
    ]
    over = next((s for s in shown if edit.at in s.span), None)
    return Removed(
        edit.at,
        next((word.speaker for word in (*after, *before)), edit.after.name),
        told((word, word.trusted) for word in before[-_AROUND:]),
        _in_pieces(there, left_out),
        told((word, word.trusted) for word in after[:_AROUND]),
        source,
        gone,
        edit.removed < 0,
        edit.covered,
        over.clip.name if edit.covered and over is not None and over.clip is not None else "",
        second_looks(texts, names, language),
        speech.knows(edit.before),
        bool(there) and not left_out,
    )


def _between(speech: Speech, clip: Clip, frames: Span) -> Iterator[tuple[TimedWord, bool]]:
    """All that was heard in these frames of a clip's recording, and whether each word is sure.

    Also what is not trusted: that nothing was said there would be told of the words nobody understood.
    """
    for line in speech.lines.get((clip.source.key, clip.sound_stream), ()):
        for word in line.words:
            if frame_said(word.at_ms, speech.rate) in frames:
                yield word, line.trusted and word.sure


def _in_pieces(there: Sequence[tuple[TimedWord, bool]], left_out: Collection[tuple[TimedWord, bool]]) -> str:
    """The words left out; "…" stands where words between them are played elsewhere."""
    pieces = [list(row) for out, row in groupby(there, key=lambda pair: pair in left_out) if out]
    return " … ".join(told(piece) for piece in pieces)


COLUMNS = ("timecode", "speaker", "before", "left out", "after", "shot over it", "frames", "second look")


def rows(edits: Iterable[Removed], rate: Rate) -> Iterator[tuple[str, ...]]:
    """The list of edits as text, in COLUMNS."""
    for edit in edits:
        yield (
            format_timecode(edit.at, rate),
            edit.speaker,
            edit.before,
            left_out(edit),
            edit.after,
            lying_over(edit),
            str(edit.frames),
            ", ".join(edit.looks),
        )


def frames_gone(edits: Iterable[Removed]) -> int:
    """How many source frames are left out at all these edits; those passed over at two of them count once."""
    by_source: dict[str, list[Span]] = {}
    for edit in edits:
        by_source.setdefault(edit.source, []).extend(edit.gone)
    return sum(span.length for spans in by_source.values() for span in joined(spans))


def lying_over(edit: Removed) -> str:
    """What is told of the picture over an edit: its name, or that the edit is seen."""
    if not edit.hidden:
        return "(seen)"
    return edit.shot or "(another picture)"


def left_out(edit: Removed) -> str:
    """What is told of the words left out: they, or why there are none."""
    if edit.turned:
        return "(order turned)"
    if edit.moved:
        return "(played elsewhere)"
    return edit.text or ("(no words)" if edit.heard else "(not known)")


def as_csv(edits: Iterable[Removed], rate: Rate) -> str:
    """The list as a spreadsheet reads it: CSV by RFC 4180, with the caution in a row of its own."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row in rows(edits, rate):
        # A cell that begins so would be reckoned as a formula.
        writer.writerow([f"'{cell}" if cell[:1] in ("=", "+", "-", "@") else cell for cell in row])
    writer.writerow([CAUTION])
    return text.getvalue()


def as_srt(edits: Sequence[Removed], rate: Rate) -> str:
    """The list as subtitles to lay on the timeline: each stands for three seconds, or until the next."""
    lines = pysubs2.SSAFile()
    for number, edit in enumerate(edits):
        start = int(rate.seconds(edit.at) * 1000)
        following = edits[number + 1].at if number + 1 < len(edits) else None
        end = start + 3000 if following is None else min(start + 3000, int(rate.seconds(following) * 1000))
        looks = f" [{', '.join(edit.looks)}]" if edit.looks else ""
        frames = "" if edit.turned else f", {edit.frames} frames"
        text = f"left out{frames}{looks}: {left_out(edit)}"
        lines.append(pysubs2.SSAEvent(start=start, end=max(end, start + 40), text=text.replace("\n", " ")))
    return lines.to_string("srt")
