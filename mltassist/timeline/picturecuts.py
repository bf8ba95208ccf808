"""Every place where the picture of an interview jumps before the viewer's eye, whatever is heard there."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice, pairwise
from math import ceil

from mltassist.timeline.cuts import ONE_EDIT_S, CutKind, SpeechEdit
from mltassist.timeline.elements import Element, Elements
from mltassist.timeline.model import Clip, Dissolve, Source, SourceKind, Timeline, Track
from mltassist.timeline.picture import Showing, showing


@dataclass(frozen=True, slots=True)
class PictureCut:
    """A cut from one picture of an interview to another, as it is seen.

    at: first frame after it. kind: JUMP within one recording, at whatever speed its sides play; CHANGE from
    one to another. removed: source frames left out, as in a `SpeechEdit`. size_change: by what factor, 1 or
    more, the picture is larger on one side of it than on the other.
    """

    at: int
    kind: CutKind
    removed: int
    before: Clip
    after: Clip
    size_change: Fraction = Fraction(1)


def picture_cuts(timeline: Timeline, elements: Elements, *, ours: bool = False) -> tuple[PictureCut, ...]:
    """All cuts between pictures of interviews that are seen, in order.

    The uppermost picture counts, on whatever track it lies and whether its sound is heard or not. Places
    where a recording runs on, and dissolves, are none. With `ours` False, cover of an earlier run hides none.
    """
    dissolves = {
        (track.index, item.start)
        for track in timeline.tracks
        for item in track.items
        if isinstance(item, Dissolve)
    }
    found = _between(showing(timeline, ours=ours), elements)
    return tuple(cut for cut, track in found if (track.index, cut.at) not in dissolves)


def _between(shown: tuple[Showing, ...], elements: Elements) -> Iterator[tuple[PictureCut, Track]]:
    """Cuts between pictures with the track of the later one."""
    for left, right in pairwise(shown):
        before, after, at = left.clip, right.clip, right.span.start
        if before is None or after is None or left.track is None or right.track is None:
            continue
        sides = (left.track, before), (right.track, after)
        if not all(_is_face(elements, track, clip) for track, clip in sides):
            continue
        if not same_recording(before.source, after.source):
            yield PictureCut(at, CutKind.CHANGE, 0, before, after, _size_change(before, after)), right.track
            continue
        removed = after.source_frame(at) - before.source_frame(at)
        if abs(removed) > max(_rounding(before), _rounding(after)):
            change = _size_change(before, after)
            yield PictureCut(at, CutKind.JUMP, removed, before, after, change), right.track


def _rounding(clip: Clip) -> int:
    """Frames that a source may seem to leave out where it runs on: at another speed its frame is rounded."""
    return 0 if clip.plain_speed else max(1, ceil(abs(clip.speed)))


def _is_face(elements: Elements, track: Track, clip: Clip) -> bool:
    return clip.source.kind is SourceKind.FILE and elements.of_clip(track, clip) is Element.INTERVIEW


def same_recording(one: Source, other: Source) -> bool:
    """True when both play one file, which at another speed may have another key."""
    return one.key == other.key or (one.path is not None and one.path == other.path)


def _size_change(before: Clip, after: Clip) -> Fraction:
    """How much larger the picture is on one side of a cut."""
    sizes = before.zoom[1], after.zoom[0]
    return max(sizes) / min(sizes) if min(sizes) > 0 else Fraction(1)


def sound_cuts(
    cuts: Iterable[PictureCut], edits: Iterable[SpeechEdit], timeline: Timeline, longest: int
) -> dict[int, int]:
    """For every split edit the frame of its cut in picture, and that of its cut in sound.

    A split edit (J or L cut) leaves out the same frames in both, or goes between the same two recordings, but
    not at the same frame; up to `longest` frames apart. They need not be quite the same frames, since either
    may have been trimmed; only far apart and recorded apart they must be, or chance would pair them.
    """
    pictures = {cut.at: cut for cut in cuts}
    heard = [e for e in edits if e.element is Element.INTERVIEW and e.kind is not CutKind.THROUGH]
    together = {edit.at for edit in heard} & pictures.keys()
    sounds = sorted((edit for edit in heard if edit.at not in together), key=lambda edit: edit.at)
    near = timeline.rate.frames(ONE_EDIT_S)
    reach = max(near, longest)
    pairs = []
    for at in pictures.keys() - together:
        first = bisect_left(sounds, at - reach, key=lambda edit: edit.at)
        for edit in islice(sounds, first, None):
            if edit.at > at + reach:
                break
            if _belong(pictures[at], edit, near, longest):
                pairs.append((abs(at - edit.at), at, edit.at))
    found: dict[int, int] = {}
    taken: set[int] = set()
    for _, picture, sound in sorted(pairs):
        if picture not in found and sound not in taken:
            found[picture] = sound
            taken.add(sound)
    return found


def _belong(cut: PictureCut, edit: SpeechEdit, near: int, longest: int) -> bool:
    """True when a cut in sound leaves out what a cut in picture does, or is so near that it is the same."""
    apart = abs(cut.at - edit.at)
    if apart > max(near, longest) or edit.kind not in (cut.kind, CutKind.DISSOLVED):
        return False
    sides = (cut.before, edit.before), (cut.after, edit.after)
    same = all(same_recording(picture.source, sound.source) for picture, sound in sides)
    if cut.kind is CutKind.CHANGE or edit.kind is CutKind.DISSOLVED:
        return same and (apart <= near or edit.kind is cut.kind)
    unlike = abs(cut.removed - edit.removed)
    if apart <= near:
        return same or unlike <= near
    return unlike <= (near if same else 0)
