"""What sounds beneath speech on a timeline, by what it is, and the stretches in which it stays the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf, log10

from mltassist.findings import Clips, Findings
from mltassist.frames import Span
from mltassist.media.sound.mix import gain_at, sounding
from mltassist.music.planner import ABOVE, ClipBeneath, PassagePart, split_passage
from mltassist.recipe.rules import DuckRules
from mltassist.timeline.elements import SPEECH, Element
from mltassist.timeline.model import Clip, Track
from mltassist.timeline.wholes import whole_clips

OUT = 1000.0
"""Separation, in LU, that stands for music that is to be out."""
SHORTEST_S = 2
"""What changes beneath speech for less than this has no level of its own: it would be ramps and no more."""


@dataclass(frozen=True, slots=True)
class Layer:
    """All that sounds of one element. element: None for what is not known.

    separation_lu: how far speech is to lie above it; None where it is measured and not moved.
    in_pause_lu: how far natural sound that is heard alone is to lie above it; None where it stays.
    """

    element: Element | None
    clips: tuple[tuple[Track, Clip], ...]
    separation_lu: float | None
    in_pause_lu: float | None = None

    @property
    def name(self) -> str:
        """What a report calls it."""
        return "unknown sound" if self.element is None else self.element.value

    def whole(self, findings: Findings) -> Iterator[tuple[Track, Clip]]:
        """The clips that curves hang on: whole ones, dissolves included, on tracks not locked."""
        tracks = {track.index: track for track, _ in self.clips if not track.locked}
        for track in tracks.values():
            for clip in whole_clips(track):
                if clip.plays_sound and findings.elements.of_clip(track, clip) is self.element:
                    yield track, clip

    def beneath(self, findings: Findings) -> tuple[ClipBeneath, ...]:
        """The same as a planner knows them."""
        whole = self.whole(findings)
        return tuple(ClipBeneath(track.index, clip.span, clip.source.key) for track, clip in whole)


def layers_of(findings: Findings, rules: DuckRules) -> tuple[Layer, ...]:
    """Music, natural sound, sound of cutaways and what is not known, those of them that sound.

    Natural sound of ours is none of it: it was laid to be heard, its first frames under the last word too.
    """
    wanted: dict[Element | None, tuple[float | None, float | None]] = {
        Element.MUSIC: (
            rules.separation_lu,
            rules.pause_separation_lu if rules.in_pause == "under" else OUT,
        ),
        Element.NATURAL: (rules.natural_separation_lu, None),
        Element.CUTAWAY: (rules.cutaway_separation_lu, None),
        None: (None, None),
    }
    found: dict[Element | None, list[tuple[Track, Clip]]] = {element: [] for element in wanted}
    for track, clip in sounding(findings.timeline):
        element = findings.elements.of_clip(track, clip)
        if element not in SPEECH and track.ours not in ("natural", "joins"):
            found[element].append((track, clip))
    return tuple(
        Layer(
            element, tuple(sorted(clips, key=lambda pair: (pair[1].start, pair[0].index))), *wanted[element]
        )
        for element, clips in found.items()
        if clips
    )


def layer_stretches(
    findings: Findings, passages: Sequence[Span], layers: Sequence[Layer], above: Clips = ()
) -> Iterator[tuple[PassagePart, ...]]:
    """Of each passage the stretches in which the same sounds lie beneath the same speech."""
    beneath = [(clip.span, (ABOVE, track.index, _recording(track, clip))) for track, clip in above]
    beneath += [
        (clip.span, (number, track.index, clip.source.key))
        for number, layer in enumerate(layers)
        for track, clip in layer.clips
    ]
    shortest = findings.timeline.rate.frames(SHORTEST_S)
    for passage in passages:
        yield split_passage(passage, beneath, shortest)


def _recording(track: Track, clip: Clip) -> str:
    """What a clip plays, and how loud it is made: bites of one recording at one gain are one voice."""
    gain = gain_at(clip, track, (clip.start + clip.span.end) // 2)
    return f"{clip.source.key} {round(20 * log10(gain)) if gain else -inf}"


def clips_in(clips: Clips, span: Span) -> tuple[tuple[Track, Clip], ...]:
    """Those of the clips that lie in a span."""
    return tuple(pair for pair in clips if pair[1].span.overlaps(span))
