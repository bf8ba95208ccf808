"""What was said where a film was cut: words of a recording that the film does not play.

Typed words are taken from the transcript beside a recording; without one the recording is listened to around
the cut, where somebody is there to listen, and of what is heard only what is sure is told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from mltassist.errors import MediaError
from mltassist.findings import Findings
from mltassist.frames import Span
from mltassist.media.words.engine import NoEngine
from mltassist.media.words.interface import WORDS_HZ, SpokenLine, TimedWord
from mltassist.rushes.speech import frame_said, spoken_recording, words_known
from mltassist.timeline.model import Clip

ENDS_S = 20
"""Seconds at each end of what was cut out that are listened to: long cuts are told by their ends."""
_AROUND_S = 1
"""Seconds beside them that are listened to, so that their first and last words stand within what is heard."""
Cut = Callable[[Clip, Span], tuple[TimedWord, ...]]
"""Words of a clip's recording in these frames of it."""


def cut_words(findings: Findings) -> Cut:
    """Whom to ask for the words of a film's recordings, also between its bites."""
    rate, run = findings.timeline.rate, findings.run

    def asked(clip: Clip, frames: Span) -> tuple[TimedWord, ...]:
        if clip.source.path is None or not clip.plain_speed or frames.length <= 0:
            return ()
        source = spoken_recording(clip, findings.recipe.speech.language)
        if source.transcript() is None and run.ears.hearer is None:
            return ()
        parts = tuple(_parts(frames, rate.frames(ENDS_S)))
        wanted = [
            Span(
                max(0, rate.samples(part.start, WORDS_HZ) - _AROUND_S * WORDS_HZ),
                rate.samples(part.end, WORDS_HZ) + _AROUND_S * WORDS_HZ,
            )
            for part in parts
        ]
        try:
            lines = words_known(run, source, wanted)
        except (MediaError, NoEngine) as problem:
            findings.note(str(problem))
            return ()
        words = (word for word in _told(lines) if any(frame_said(word.at_ms, rate) in part for part in parts))
        return tuple(sorted(words, key=lambda word: word.at_ms))

    return asked


def _parts(frames: Span, most: int) -> Iterator[Span]:
    if frames.length <= 2 * most:
        yield frames
    else:
        yield Span(frames.start, frames.start + most)
        yield Span(frames.end - most, frames.end)


def _told(lines: Sequence[SpokenLine]) -> Iterator[TimedWord]:
    return (word for line in lines if line.trusted for word in line.words if word.sure)
