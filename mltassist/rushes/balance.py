"""How a film divides its time: among the elements, among those who speak, and where it breathes."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from mltassist.findings import Findings, speech_clips
from mltassist.frames import Rate, Span, joined, without
from mltassist.timeline.cuts import stretches
from mltassist.timeline.elements import SPEECH, Element
from mltassist.timeline.picture import is_black, showing

NARRATION_HIGH = 0.5
"""Part of the speech: a narrator who carries most of a film makes up for its pictures and voices
(common practice)."""
PAUSE_S = 1
"""A shorter stretch of natural sound without speech is no pause, but a breath between two lines."""
_NUMBERED = re.compile(r"(\S.*?)[\s_-]+\(?\d+\)?")
_COUNTED = frozenset(
    re.findall(
        r"\w+",
        "bite camera cam card clip day interview part person reel roll scene shot speaker take tape voice",
    )
)
"""What is counted and no name: two interviews need not be with one person."""


def speaker_of(name: str) -> str:
    """Who speaks in a clip, by its name: "Ines Calder" of "Ines Calder 2", for one talk has many files.

    Only a first and a last name, so written, are taken for a person's; all else stays as it is.
    """
    found = _NUMBERED.fullmatch(name)
    words = found[1].split() if found else []
    named = len(words) > 1 and all(word[0].isupper() and word.casefold() not in _COUNTED for word in words)
    return found[1] if found and named else name


@dataclass(frozen=True, slots=True)
class Balance:
    """Frames of a film of `length`: elements (sound; cutaways where seen), each speaker's words and face.

    pauses: stretches in which natural sound is heard and nobody speaks; unbroken: the longest without one.
    """

    rate: Rate
    length: int
    elements: dict[Element, int]
    words: dict[str, int]
    faces: dict[str, int]
    pauses: tuple[Span, ...]
    unbroken: Span

    @property
    def narration(self) -> float:
        """Part of the speech, 0 to 1, that is narration."""
        speech = sum(self.elements[element] for element in SPEECH)
        return self.elements[Element.NARRATION] / speech if speech else 0.0

    @property
    def caution(self) -> str:
        """What the trade says of much narration, "" where there is little."""
        if self.narration <= NARRATION_HIGH:
            return ""
        return f"narration carries {self.narration:.0%} of the speech: a sign that pictures and voices do not"

    def as_dict(self) -> dict[str, Any]:
        """Plain data, in the form of docs/formats.md."""

        def seconds(frames: int) -> float:
            return round(float(self.rate.seconds(frames)), 2)

        return {
            "length_s": seconds(self.length),
            "elements_s": {element.value: seconds(frames) for element, frames in self.elements.items()},
            "words_s": {who: seconds(frames) for who, frames in self.words.items()},
            "face_s": {who: seconds(frames) for who, frames in self.faces.items()},
            "narration_share": round(self.narration, 3),
            "pauses": [[span.start, span.end] for span in self.pauses],
            "longest_without_pause": [self.unbroken.start, self.unbroken.end],
            "caution": self.caution,
        }


def find_balance(findings: Findings) -> Balance:
    """Add up a timeline as it lies."""
    timeline, elements = findings.timeline, findings.elements
    words: defaultdict[str, list[Span]] = defaultdict(list)
    for _, clip in speech_clips(findings):
        words[speaker_of(clip.name)].append(clip.span)
    seen = showing(timeline, ours=True)
    faces: defaultdict[str, int] = defaultdict(int)
    cutaway = 0
    for shown in seen:
        if shown.clip is None or shown.track is None or is_black(shown.clip):
            continue
        element = elements.of_clip(shown.track, shown.clip)
        if element is Element.INTERVIEW:
            faces[speaker_of(shown.clip.name)] += shown.span.length
        cutaway += shown.span.length if element is Element.CUTAWAY else 0
    sounding = {element: joined(stretches(timeline, elements, element)) for element in Element}
    speech = joined([span for element in SPEECH for span in sounding[element]])
    least = timeline.rate.frames(PAUSE_S)
    pauses = tuple(s for s in without(sounding[Element.NATURAL], speech) if s.length >= least)
    between = without([Span(0, timeline.length)], pauses) or (Span(0, 0),)
    return Balance(
        timeline.rate,
        timeline.length,
        {
            element: cutaway if element is Element.CUTAWAY else sum(span.length for span in spans)
            for element, spans in sounding.items()
        },
        {who: sum(span.length for span in joined(spans)) for who, spans in words.items()},
        dict(faces),
        pauses,
        max(between, key=lambda span: span.length),
    )
