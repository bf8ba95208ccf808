"""What an earlier run has left of its own, and which of its shots moved with the film or were deleted."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from mltassist.frames import Span
from mltassist.timeline.model import Laid, Timeline


@dataclass(frozen=True, slots=True)
class Earlier:
    """Shots of one track of ours.

    kept: those that lie there as they were left, also where the film before them became longer or shorter.
    deleted: those that were taken away by hand, at the places where they would lie now.
    """

    kept: tuple[Laid, ...] = ()
    deleted: tuple[Laid, ...] = ()


def was_passed(timeline: Timeline) -> bool:
    """True where an earlier run has left something of ours, or changed the film."""
    curves = [*timeline.levels]
    for track in timeline.tracks:
        curves += track.levels
        for clip in track.clips():
            curves += clip.levels
    ours = [*(bool(track.ours) for track in timeline.tracks), *(mark.ours for mark in timeline.markers)]
    return bool(timeline.laid or timeline.changes) or any((*ours, *(curve.ours for curve in curves)))


def earlier_of(laid: Iterable[Laid], found: Iterable[Laid], role: str) -> Earlier:
    """Compare what was left on a track with what is found there.

    A shot that has moved alone was moved by hand; neighbours that have moved alike went with the film. A shot
    that is gone together with the film under it was not deleted for its own sake, and where all are gone
    the editor has cleared the track: then none counts as deleted.
    """
    left = sorted(row for row in laid if row.role == role)
    there = sorted(row for row in found if row.role == role)
    places = {(row.file, row.source_in, row.length): row.start for row in there}
    shifts = [places.get((row.file, row.source_in, row.length)) for row in left]
    by = [None if at is None else at - row.start for at, row in zip(shifts, left, strict=True)]
    known = [number for number, shift in enumerate(by) if shift is not None]
    kept, deleted = [], []
    for number, row in enumerate(left):
        before = [by[n] for n in known if n < number][-1:]
        after = [by[n] for n in known if n > number][:1]
        shift = by[number]
        if shift is not None:
            if shift == 0 or shift in (*before, *after):
                kept.append(replace(row, start=row.start + shift))
        elif known and len({*before, *after}) == 1:
            moved = replace(row, start=row.start + ((*before, *after)[0] or 0))
            if not _is_there(moved, there):
                deleted.append(moved)
    return Earlier(tuple(kept), tuple(deleted))


def _is_there(row: Laid, there: Sequence[Laid]) -> bool:
    """True where a shot was trimmed, moved or swapped, and not deleted."""
    span, shown = Span(row.start, row.start + row.length), Span(row.source_in, row.source_in + row.length)
    return any(
        span.overlaps(Span(other.start, other.start + other.length))
        or (other.file == row.file and shown.overlaps(Span(other.source_in, other.source_in + other.length)))
        for other in there
    )
