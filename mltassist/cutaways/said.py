"""The words of a film: transcripts of its recordings, followed through the edit to the timeline."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

from mltassist.cutaways.planner.words import Spoken
from mltassist.errors import MediaError
from mltassist.findings import Findings, speech_clips
from mltassist.frames import Rate
from mltassist.media.transcript import Transcript, Word, find_transcript, read_transcript
from mltassist.timeline.model import Clip


def spoken_words(findings: Findings) -> tuple[Spoken, ...]:
    """Every word that is said on the timeline and written down somewhere, in order.

    Transcripts beside the recordings come first; a film without any is read from its own subtitles.
    Files that cannot be read are noted.
    """
    rate = findings.timeline.rate
    known: dict[str, Transcript | None] = {}
    found: list[Spoken] = []
    for _, clip in speech_clips(findings):
        path = clip.source.path
        if path is None or not clip.plain_speed:
            continue
        if clip.source.key not in known:
            # Where a proxy stands in for the original, the words mostly lie beside the original.
            beside = find_transcript(Path(clip.source.key)) or find_transcript(path)
            try:
                known[clip.source.key] = None if beside is None else read_transcript(beside)
            except MediaError as error:
                known[clip.source.key] = None
                findings.note(str(error), clip.start)
        if (transcript := known[clip.source.key]) is not None:
            found += through_the_edit(transcript, clip, rate)
    if not any(known.values()):
        found += _of_subtitles(findings)
    return tuple(sorted(set(found), key=lambda word: (word.at, word.text)))


def through_the_edit(transcript: Transcript, clip: Clip, rate: Rate) -> Iterable[Spoken]:
    """The words of a recording that a clip of it plays, where it plays them."""
    for word in transcript.words:
        frame = _frame(word, rate)
        if clip.source_in <= frame < clip.source_in + clip.length:
            at = clip.start + frame - clip.source_in
            yield Spoken(word.text, at, transcript.language, opens=word.opens, after=word.after)


def _frame(word: Word, rate: Rate) -> int:
    """The frame that is shown when a word is said."""
    return int(Fraction(word.at_ms, 1000) * rate.fraction // 1)


def _of_subtitles(findings: Findings) -> Iterable[Spoken]:
    rate, length = findings.timeline.rate, findings.timeline.length
    for path in findings.timeline.subtitles:
        try:
            transcript = read_transcript(path)
        except MediaError as error:
            findings.note(str(error))
            continue
        for word in transcript.words:
            frame = _frame(word, rate)
            if 0 <= frame < length:
                yield Spoken(word.text, frame, transcript.language, opens=word.opens, after=word.after)
