"""Every edit in speech, and what kind of edit it is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from mltassist.frames import Span, without
from mltassist.timeline.elements import SPEECH, Element, Elements
from mltassist.timeline.model import Clip, Dissolve, Timeline, Track
from mltassist.timeline.picture import Showing, showing

ONE_EDIT_S = Fraction(1, 2)
"""So near to an edit in sound a cut in the face's picture is the same edit: a cover's margin reaches it."""


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
    """

    at: int
    track: int
    kind: CutKind
    covered: bool
    removed: int
    before: Clip
    after: Clip
    element: Element


def speech_edits(timeline: Timeline, elements: Elements, *, ours: bool = False) -> tuple[SpeechEdit, ...]:
    """All edits in speech, in order. With `ours` False, cover of an earlier run counts as none."""
    shown = showing(timeline, ours=ours)
    near = timeline.rate.frames(ONE_EDIT_S)
    found = [
        edit
        for track in timeline.tracks
        if track.has_sound and not track.muted and not track.ours
        for edit in _edits_on(track, elements, shown, near)
    ]
    return tuple(sorted(found, key=lambda edit: (edit.at, edit.track)))


def never_played(edit: SpeechEdit, clips: Iterable[Clip]) -> tuple[Span, ...]:
    """Source frames passed over at an edit that none of these clips plays; none where order was turned."""
    first = edit.before.source_frame(edit.at)
    played = [clip.source_span for clip in clips if clip.source.key == edit.before.source.key]
    return without([Span(first, first + max(0, edit.removed))], played)


def _edits_on(
    track: Track, elements: Elements, shown: tuple[Showing, ...], near: int
) -> Iterator[SpeechEdit]:
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
        if not (before.plays_sound and after.plays_sound):
            continue  # a still or a colour beside it: where both halves lie on one track
        at = right.start
        while place < len(shown) and shown[place].span.end <= at:
            place += 1
        cut = {before.source.key, after.source.key} | _faces_cut(
            shown, place, Span(at - near, at + near + 1), elements
        )
        covered = _is_covered(shown, place, at, cut)
        if isinstance(right, Dissolve):
            yield SpeechEdit(at, track.index, CutKind.DISSOLVED, covered, 0, before, after, element)
            continue
        same = before.source.key == after.source.key and before.speed == after.speed
        removed = after.source_in - before.source_frame(at) if same else 0
        kind = CutKind.CHANGE if not same else CutKind.JUMP if removed else CutKind.THROUGH
        yield SpeechEdit(at, track.index, kind, covered, removed, before, after, element)


def _faces_cut(shown: tuple[Showing, ...], place: int, near: Span, elements: Elements) -> set[str]:
    """Sources of interviews whose own picture jumps in a span of frames around the edit.

    Where sound was recorded apart from the picture, the picture that jumps is of another file than the sound,
    and may be cut some frames before or after it.
    """
    first = place
    while first > 0 and shown[first - 1].span.end >= near.start:
        first -= 1
    found = set()
    for left, right in pairwise(shown[first:]):
        if right.span.start >= near.end:
            break
        one, other = left.clip, right.clip
        if one is None or other is None or right.track is None or one.source.key != other.source.key:
            continue
        jumps = one.source_frame(right.span.start) != other.source_frame(right.span.start)
        if jumps and elements.of_clip(right.track, other) is Element.INTERVIEW:
            found.add(other.source.key)
    return found


def _is_covered(shown: tuple[Showing, ...], place: int, at: int, cut: set[str]) -> bool:
    """True when a side of the edit shows another source: then the eye never meets the jump."""
    sides = [shown[place]] if place < len(shown) else []
    if place and place - 1 < len(shown) and shown[place - 1].span.end == at:
        sides.append(shown[place - 1])
    if not sides:
        return False
    return any(side.clip is not None and side.clip.source.key not in cut for side in sides)


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
