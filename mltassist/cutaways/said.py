"""The words that shots are to follow: of its recordings, or of the film's own subtitles."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain

from mltassist.cutaways.planner.words import Matcher, Spoken
from mltassist.errors import MediaError
from mltassist.findings import Findings, cutaways
from mltassist.media.transcript import read_transcript
from mltassist.media.words.aligner import dictionary_sounds
from mltassist.media.words.engine import is_english
from mltassist.media.words.interface import TRUSTED
from mltassist.media.words.letters import alike, spoken_parts
from mltassist.rushes.moments import tags_of
from mltassist.rushes.speech import Said, find_speech, frame_said, note_unheard, readable, spoken_recording
from mltassist.timeline.commonwords import COMMON_WORDS, SHORTEST


def spoken_words(findings: Findings) -> tuple[Spoken, ...]:
    """Every word that is said on the timeline and can be trusted, in order.

    Transcripts beside the recordings come first; a film without any is read from its own subtitles; where
    it has none either, what can be heard counts, unless the run is not listening for words. Files that
    cannot be read are noted.
    """
    readable_clips = readable(findings)
    typed = {one.source.key for one in readable_clips if spoken_recording(one).transcript() is not None}
    found = [] if typed else list(_of_subtitles(findings))
    if not found:
        speech = find_speech(findings)
        note_unheard(findings, speech)
        unclear = contested(speech.said)
        clear = [word for word in speech.said if word not in unclear]
        found = [_spoken(word) for word in clear if word.trusted]
        doubtful = [_spoken(word) for word in clear if not word.trusted and word.trust >= TRUSTED]
        found += named_in_the_bin(findings, doubtful)
        heard = {_spoken(word) for word in clear if word.source not in typed}
        twins = twins_on_film(findings, [word for word in found if word in heard])
        found = [word for word in found if word not in twins]
    return tuple(sorted(set(found), key=lambda word: (word.at, word.text)))


def _spoken(word: Said) -> Spoken:
    return Spoken(word.text, word.at, word.language, opens=word.opens, after=word.after)


def contested(words: Sequence[Said]) -> set[Said]:
    """Words that not every hearing has, where another word of the film sounds nearly the same and is sure.

    A recogniser that takes one for the other in a voice does so again: "the meal has stood here", in a film
    in which a mill is spoken of. English alone; words that only bind others are no rivals.
    """
    english = [word for word in words if is_english(word.language)]
    doubtful = {word: spoken_parts(word.text) for word in english if not word.agreed}
    if not doubtful:
        return set()
    sure = {plain for word in english if word.trusted and word.agreed for plain in spoken_parts(word.text)}
    rivals = [plain for plain in sure if len(plain) >= SHORTEST and plain not in COMMON_WORDS]
    sounds = dictionary_sounds({*rivals, *chain.from_iterable(doubtful.values())})
    return {
        word
        for word, parts in doubtful.items()
        if any(alike(sounds[plain], sounds[rival]) for plain in parts for rival in rivals)
    }


def twins_on_film(findings: Findings, words: Sequence[Spoken]) -> set[Spoken]:
    """Of words that are only heard those that name one thing that was filmed and sound nearly like another.

    Where meal was filmed and a mill too, and both are heard, hearing alone does not tell which is spoken of,
    however sure it is: a voice that is misheard is so every time. English alone.
    """
    english = [word for word in words if is_english(word.language)]
    named = {word: spoken_parts(word.text) for word in named_in_the_bin(findings, english)}
    sounds = dictionary_sounds(
        {part for part in chain.from_iterable(named.values()) if len(part) >= SHORTEST}
    )
    twins = {one for one in sounds if any(alike(sounds[one], other) for other in sounds.values())}
    return {word for word, parts in named.items() if twins.intersection(parts)}


def named_in_the_bin(findings: Findings, words: Sequence[Spoken]) -> Iterator[Spoken]:
    """Of words in doubt those that name what was filmed: it is likely to be spoken of.

    Not what another hearing alone has of such a word, nor a subject that fits the sound better: in voices of
    machines both were wrong as often as right (docs/how-it-decides.md).
    """
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
            frame = frame_said(word.at_ms, rate)
            if 0 <= frame < length:
                yield Spoken(word.text, frame, transcript.language, opens=word.opens, after=word.after)
