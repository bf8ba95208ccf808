"""Whose shots there are: the person of a tag or log row, found among those who are interviewed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from unicodedata import normalize

from mltassist.cutaways.planner.film import Voice
from mltassist.findings import Findings, speech_clips
from mltassist.frames import Span
from mltassist.timeline.elements import Element


class Persons:
    """The interviews of a film by the names that their clips and files carry."""

    def __init__(self, findings: Findings) -> None:
        self._findings = findings
        heard = {key for voice in voices(findings, None) for key in voice.who}
        self._words = {key: _words(Path(key).stem) for key in sorted(heard)}
        for clip in findings.timeline.bin:
            if clip.source.key in heard:
                self._words[clip.source.key] |= _words(" ".join((clip.name, *clip.tags)))
        for track in findings.timeline.tracks:
            for laid in track.clips():
                if laid.source.key in heard:
                    self._words[laid.source.key] |= _words(laid.name)
        self._unknown: set[str] = set()

    def recordings(self, names: Sequence[str]) -> tuple[str, ...]:
        """Keys of the recordings in which any of these persons is interviewed; a name of nobody is noted."""
        found = []
        for name in names:
            said = _words(name)
            keys = [key for key, words in self._words.items() if said and said <= words]
            if not keys and name not in self._unknown:
                self._unknown.add(name)
                told = f"a cutaway is of {name!r}, and no interview has that name: it is laid over anybody"
                self._findings.note(f"{told}; name the interview's clip so, or tag it of: {name}")
            found += keys
        return tuple(dict.fromkeys(found))


def voices(findings: Findings, speech: Sequence[Span] | None) -> tuple[Voice, ...]:
    """Where somebody who is interviewed speaks, by clips of speech; narration is no such voice.

    speech: frames in which words are heard; None takes all of each clip. A voice is in the recording that is
    heard, and in that of the picture which is linked to it.
    """
    timeline, elements = findings.timeline, findings.elements
    at = {(track.index, clip.start): clip.source.key for track in timeline.tracks for clip in track.clips()}
    found = []
    for track, clip in speech_clips(findings):
        if elements.of_clip(track, clip) is not Element.INTERVIEW:
            continue
        place = (track.index, clip.start)
        pairs = (at[other] for pair in timeline.linked if place in pair for other in pair if other in at)
        who = tuple(dict.fromkeys((clip.source.key, *pairs)))
        spans = [clip.span] if speech is None else [clip.span.shared(one) for one in speech]
        found += [Voice(span, who) for span in spans if span.length > 0]
    return tuple(sorted(found, key=lambda voice: (voice.span, voice.who)))


def _words(text: str) -> set[str]:
    """The words of a text in lower case."""
    return set(re.findall(r"[^\W_]+", normalize("NFC", text).casefold()))
