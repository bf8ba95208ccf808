"""How far a join in speech can be moved without harm to anything else on the timeline."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from operator import attrgetter

from mltassist.frames import Span
from mltassist.timeline.cuts import SpeechEdit
from mltassist.timeline.edits import NudgeJoin
from mltassist.timeline.model import (
    Clip,
    Dissolve,
    Gap,
    Item,
    SourceKind,
    Timeline,
    Track,
    TrackKind,
    quick_clip,
    quick_gap,
)
from mltassist.timeline.wholes import runs_on

FAR = 10**9
"""More frames than any film has."""


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
        return Freedom((), before, after, (0, 0), f"track {locked.index} is locked")
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


def nudged(timeline: Timeline, edit: NudgeJoin) -> Timeline:
    """The timeline with a join moved as the edit says, guides and links aside."""
    tracks = (
        replace(track, items=tuple(_moved_items(track, edit, joined=track.index in edit.tracks)))
        for track in timeline.tracks
    )
    return replace(timeline, tracks=tuple(tracks))


def _moved_items(track: Track, edit: NudgeJoin, *, joined: bool) -> Iterator[Item]:
    at, by = edit.at, edit.shift
    number = next((n for n, item in enumerate(track.items) if item.start < at <= item.span.end), -1)
    last = number + 1 >= len(track.items)
    if number >= 0 and track.items[number].span.end == at and not last and not joined:
        number += isinstance(track.items[number + 1], Gap)
    follows = not joined and number >= 0 and not (last and track.items[number].span.end == at)
    pieces = _run_from(track.items, number) if follows else range(0)
    for n, item in enumerate(track.items):
        if joined and item.span.end == at and isinstance(item, Clip):
            yield replace(item, length=item.length + edit.before_by)
        elif joined and item.start == at and isinstance(item, Clip):
            yield replace(
                item,
                start=edit.joined_at,
                length=item.length - edit.after_by,
                source_in=item.source_in + edit.after_by,
            )
        elif follows and n == number:
            yield replace(item, length=item.length + by)
        elif n in pieces and isinstance(item, Clip):
            yield replace(item, start=item.start + by, source_in=item.source_in + by)
        elif item.start >= at:
            yield _later(item, by)
        else:
            yield item


def _run_from(items: Sequence[Item], number: int) -> range:
    """The numbers of the clip with this number and of those that play on from it: cut, nothing removed."""
    end = number + 1
    while end < len(items):
        earlier, later = items[end - 1 : end + 1]
        if not (isinstance(earlier, Clip) and isinstance(later, Clip) and runs_on(earlier, later)):
            break
        end += 1
    return range(number, end)


def _later(item: Item, by: int) -> Item:
    """Every join that moves takes all that follows with it: in a long film that is nearly all of the work."""
    if not by:
        return item
    if isinstance(item, Gap):
        return quick_gap(item.start + by, item.length)
    if isinstance(item, Clip):
        return quick_clip(item.start + by, *_ALL_BUT_START(item))
    outgoing, incoming = (replace(c, start=c.start + by) for c in (item.outgoing, item.incoming))
    return replace(item, start=item.start + by, outgoing=outgoing, incoming=incoming)


_ALL_BUT_START = attrgetter(*(field.name for field in fields(Clip)[1:]))


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
    run = _run_from(track.items, number)
    ends, after = track.items[run.stop - 1], track.items[run.stop : run.stop + 1]
    if isinstance(item, Dissolve) or (isinstance(item, Clip) and after and isinstance(after[0], Dissolve)):
        yield 0, 0  # the frames of a dissolve belong to both of its clips
    elif item.span.end == at and later and isinstance(later[0], Gap):
        yield -later[0].length, FAR
    else:
        yield _item_limits(item, ends, at)


def _item_limits(item: Item, ends: Item, at: int) -> tuple[int, int]:
    if isinstance(item, Gap):
        return -item.length + (item.span.end > at), FAR
    assert isinstance(item, Clip)  # noqa: S101  (dissolves were told before)
    rest = Span(at, item.span.end).length
    assert isinstance(ends, Clip)  # noqa: S101
    return -(rest - 1 if rest > 0 else item.length - 1), _spare(ends)
