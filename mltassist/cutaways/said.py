"""The words that shots are to follow: of its recordings, or of the film's own subtitles."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mltassist.cutaways.planner.words import Matcher, Spoken
from mltassist.errors import MediaError
from mltassist.findings import Findings, cutaways
from mltassist.media.transcript import read_transcript
from mltassist.rushes.moments import tags_of
from mltassist.rushes.speech import Said, find_speech, frame_of, note_unheard, readable, source_of


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
        found = [_spoken(word) for word in speech.said if word.trusted]
        found += named_in_the_bin(
            findings, [_spoken(word) for word in speech.said if not word.trusted and word.likely]
        )
    return tuple(sorted(set(found), key=lambda word: (word.at, word.text)))


def _spoken(word: Said) -> Spoken:
    return Spoken(word.text, word.at, word.language, opens=word.opens, after=word.after)


def named_in_the_bin(findings: Findings, words: Sequence[Spoken]) -> Iterator[Spoken]:
    """Of words in doubt those that name what was filmed: it is likely to be spoken of."""
    log = findings.run.log
    tags = [(tag,) for clip in cutaways(findings) for tag in tags_of(clip, log)]
    named = Matcher(words, tags, findings.recipe.synonyms).heaviest() if words else {}
    yield from (word for word in words if word.at in named)


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
