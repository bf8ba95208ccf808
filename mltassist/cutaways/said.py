"""The words that shots are to follow: of its recordings, or of the film's own subtitles."""

from __future__ import annotations

from collections.abc import Iterator

from mltassist.cutaways.planner.words import Spoken
from mltassist.errors import MediaError
from mltassist.findings import Findings
from mltassist.media.transcript import read_transcript
from mltassist.rushes.speech import find_speech, frame_of, note_unheard, readable, source_of


def spoken_words(findings: Findings) -> tuple[Spoken, ...]:
    """Every word that is said on the timeline and can be trusted, in order.

    Transcripts beside the recordings come first; a film without any is read from its own subtitles; where
    it has none either, what can be heard counts, unless the run is not listening for words. Files that
    cannot be read are noted.
    """
    transcribed = any(source_of(clip).transcript() is not None for clip in readable(findings))
    found = [] if transcribed else list(_of_subtitles(findings))
    if not found:
        speech = find_speech(findings)
        note_unheard(findings, speech)
        words = (word for word in speech.said if word.trusted)
        found = [
            Spoken(word.text, word.at, word.language, opens=word.opens, after=word.after) for word in words
        ]
    return tuple(sorted(set(found), key=lambda word: (word.at, word.text)))


def _of_subtitles(findings: Findings) -> Iterator[Spoken]:
    rate, length = findings.timeline.rate, findings.timeline.length
    for path in findings.timeline.subtitles:
        try:
            transcript = read_transcript(path)
        except MediaError as error:
            findings.note(str(error))
            continue
        for word in transcript.words:
            frame = frame_of(word.at_ms, rate)
            if 0 <= frame < length:
                yield Spoken(word.text, frame, transcript.language, opens=word.opens, after=word.after)
