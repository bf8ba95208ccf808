"""How far a join in speech can be moved without harm to anything else on the timeline."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from mltassist.timeline.cuts import SpeechEdit
from mltassist.timeline.model import Clip, Dissolve, Gap, SourceKind, Timeline, Track, TrackKind
from mltassist.timeline.moves import FAR
from mltassist.timeline.wholes import runs_on


@dataclass(frozen=True, slots=True)
class Freedom:
    """Least and most frames by which the parts of a join may move.

    tracks: those on which it moves alike. before: frames more at the end of the clip before it; after:
    frames later in the source of the clip after it; shift: what the film may become longer by.
    held: why nothing may move at all, else "".
    """

    tracks: tuple[int, ...] = ()
    before: tuple[int, int] = (0, 0)
    after: tuple[int, int] = (0, 0)
    shift: tuple[int, int] = (0, 0)
    held: str = ""

    def allows(self, before_by: int, after_by: int) -> bool:
        """True for a move by so many frames more before the join, and later in the source after it."""
        (least, most), (earliest, latest), shift = self.before, self.after, before_by - after_by
        inside = least <= before_by <= most and earliest <= after_by <= latest
        return not self.held and inside and self.shift[0] <= shift <= self.shift[1]


def freedom(timeline: Timeline, edit: SpeechEdit, *, picture_follows: bool = True) -> Freedom:
    """How far this edit can be moved.

    Its picture moves with it where both were cut alike; with `picture_follows` False a picture on a
    track of its own stays as it is, and the film keeps its length.
    """
    if not (edit.before.plain_speed and edit.after.plain_speed):
        return Freedom(held="its clips are played at another speed")
    alike = [track for track in timeline.tracks if _cut_alike(track, edit)]
    if not picture_follows and timeline.track(edit.track).kind is TrackKind.SOUND:
        moved = [track for track in alike if track.kind is TrackKind.SOUND]
    else:
        moved = alike
    pairs = [pair for track in moved if (pair := _meeting(track, edit.at)) is not None]
    if not pairs:
        return Freedom(held="its clips overlap")
    before = (max(1 - a.length for a, _ in pairs), min(_spare(a) for a, _ in pairs))
    after = (-min(b.source_in for _, b in pairs), min(b.length - 1 for _, b in pairs))
    if locked := next((track for track in moved if track.locked), None):
        return Freedom((), before, after, (0, 0), f"track {locked.name!r} is locked")
    shift = (0, 0)
    if moved == alike:
        limits = [
            limit for track in timeline.tracks if track not in moved for limit in _follows(track, edit.at)
        ]
        # Both clips of the join keep a frame, whatever the shift; so the other tracks alone limit it.
        shift = (
            max((least for least, _ in limits), default=-FAR),
            min((most for _, most in limits), default=FAR),
        )
    return Freedom(tuple(track.index for track in moved), before, after, shift)


def _meeting(track: Track, at: int) -> tuple[Clip, Clip] | None:
    for left, right in pairwise(track.items):
        if right.start == at and isinstance(left, Clip) and isinstance(right, Clip):
            return left, right
    return None


def _cut_alike(track: Track, edit: SpeechEdit) -> bool:
    """True where the same two sources meet in the same way: sound and picture of one interview."""
    if track.index == edit.track:
        return True
    pair = _meeting(track, edit.at)
    if pair is None:
        return False
    before, after = pair
    return (
        (before.source.key, after.source.key) == (edit.before.source.key, edit.after.source.key)
        and before.plain_speed
        and after.plain_speed
        and before.source_frame(edit.at) == edit.before.source_frame(edit.at)
        and after.source_in == edit.after.source_in
    )


def _spare(clip: Clip) -> int:
    """Frames its source has after the clip's end."""
    if clip.source.kind in (SourceKind.COLOUR, SourceKind.IMAGE, SourceKind.TITLE):
        return FAR
    return max(0, clip.source.length - clip.source_in - clip.length) if clip.plain_speed else 0


def _follows(track: Track, at: int) -> Iterator[tuple[int, int]]:
    """Least and most shift that another track can follow; nothing where it has ended by then."""
    if track.end <= at:
        return
    if track.locked:
        yield 0, 0
        return
    number = next((n for n, i in enumerate(track.items) if i.start < at <= i.start + i.length), None)
    if number is None:  # it begins here or later, behind nothing
        if at > 0:
            yield 0, FAR
        return
    item, later = track.items[number], track.items[number + 1 : number + 2]
    ends = item
    for after in track.items[number + 1 :]:  # pieces that were cut with nothing removed follow together
        if isinstance(after, Gap) or not isinstance(ends, Clip):
            break
        if isinstance(after, Clip) and not runs_on(ends, after):
            break
        ends = after
    if isinstance(item, Dissolve) or isinstance(ends, Dissolve):
        yield 0, 0  # the frames of a dissolve belong to both of its clips
    elif item.span.end == at and later and isinstance(later[0], Gap):
        yield -later[0].length, FAR
    elif isinstance(ends, Clip):
        yield 1 - (item.span.end - at or item.length), _spare(ends)
    else:
        yield (item.span.end > at) - item.length, FAR
