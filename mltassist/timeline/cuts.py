"""Every edit in speech, and what kind of edit it is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from mltassist.frames import Span
from mltassist.timeline.elements import SPEECH, Element, Elements
from mltassist.timeline.model import Clip, Dissolve, Timeline, Track
from mltassist.timeline.picture import Showing, showing


class CutKind(StrEnum):
    """What the ear and eye meet at an edit in speech."""

    THROUGH = "through"
    """The source runs on: nothing was cut."""
    JUMP = "jump"
    """Same source, another place: the picture jumps."""
    CHANGE = "change"
    """Another source: another speaker or another angle."""
    DISSOLVED = "dissolved"
    """The two clips overlap."""


@dataclass(frozen=True, slots=True)
class SpeechEdit:
    """An edit between two neighbouring clips of speech.

    at: first frame after it; track: the track it is on; covered: another picture lies opaque over it,
    or begins or ends right there, so that no jump is seen.
    removed: source frames left out, negative when the order was turned round; 0 between sources.
    size_change: by what factor, 1 or more, the picture is larger on one side of it than on the other.
    """

    at: int
    track: int
    kind: CutKind
    covered: bool
    removed: int
    before: Clip
    after: Clip
    element: Element
    size_change: Fraction = Fraction(1)


def speech_edits(timeline: Timeline, elements: Elements, *, ours: bool = False) -> tuple[SpeechEdit, ...]:
    """All edits in speech, in order. With `ours` False, cover of an earlier run counts as none."""
    shown = showing(timeline, ours=ours)
    found = [
        edit
        for track in timeline.tracks
        if track.has_sound and not track.muted and not track.ours
        for edit in _edits_on(track, elements, shown)
    ]
    return tuple(sorted(found, key=lambda edit: (edit.at, edit.track)))


def _edits_on(track: Track, elements: Elements, shown: tuple[Showing, ...]) -> Iterator[SpeechEdit]:
    place = 0
    for left, right in pairwise((None, *track.items)):
        if isinstance(right, Dissolve):
            before = left if isinstance(left, Clip) else right.outgoing
            after = right.incoming
        elif isinstance(left, Clip) and isinstance(right, Clip):
            before, after = left, right
        else:
            continue  # an edit with a dissolve was told where the dissolve began
        element = elements.of_clip(track, after)
        if element not in SPEECH or elements.of_clip(track, before) not in SPEECH:
            continue
        at = right.start
        while place < len(shown) and shown[place].span.end <= at:
            place += 1
        cut = {before.source.key, after.source.key} | _face_cut(shown, place, at, elements)
        covered = _is_covered(shown, place, at, cut)
        if isinstance(right, Dissolve):
            yield SpeechEdit(at, track.index, CutKind.DISSOLVED, covered, 0, before, after, element)
            continue
        same = before.source.key == after.source.key and before.speed == after.speed
        removed = after.source_in - before.source_frame(at) if same else 0
        kind = CutKind.CHANGE if not same else CutKind.JUMP if removed else CutKind.THROUGH
        change = _size_change(shown, place, at, cut)
        yield SpeechEdit(at, track.index, kind, covered, removed, before, after, element, change)


def _face_cut(shown: tuple[Showing, ...], place: int, at: int, elements: Elements) -> set[str]:
    """The source of an interview whose picture jumps right there; empty where none does.

    Where sound was recorded apart from the picture, the picture that jumps is of another file than the sound.
    """
    if not 0 < place < len(shown) or shown[place].span.start != at:
        return set()
    sides = shown[place - 1], shown[place]
    faces = [
        side.clip
        for side in sides
        if side.clip and side.track and elements.of_clip(side.track, side.clip) is Element.INTERVIEW
    ]
    if len(faces) < 2 or faces[0].source.key != faces[1].source.key:
        return set()
    return {faces[0].source.key} if faces[0].source_frame(at) != faces[1].source_frame(at) else set()


def _is_covered(shown: tuple[Showing, ...], place: int, at: int, cut: set[str]) -> bool:
    """True when a side of the edit shows another source: then the eye never meets the jump."""
    sides = [shown[place]] if place < len(shown) else []
    if place and place - 1 < len(shown) and shown[place - 1].span.end == at:
        sides.append(shown[place - 1])
    if not sides:
        return False
    return any(side.clip is not None and side.clip.source.key not in cut for side in sides)


def _size_change(shown: tuple[Showing, ...], place: int, at: int, cut: set[str]) -> Fraction:
    """How much larger the picture of the edit's own sources is on one side of it."""
    if not 0 < place < len(shown) or shown[place].span.start != at:
        return Fraction(1)
    left, right = shown[place - 1].clip, shown[place].clip
    if left is None or right is None or not {left.source.key, right.source.key} <= cut:
        return Fraction(1)
    sizes = left.zoom[1], right.zoom[0]
    return max(sizes) / min(sizes) if min(sizes) > 0 else Fraction(1)


def stretches(timeline: Timeline, elements: Elements, element: Element) -> tuple[Span, ...]:
    """Where clips of one element sound, one span each, in order."""
    return tuple(
        sorted(
            clip.span
            for track in timeline.tracks
            if track.has_sound and not track.muted
            for clip in track.clips()
            if clip.plays_sound and elements.of_clip(track, clip) is element
        )
    )
