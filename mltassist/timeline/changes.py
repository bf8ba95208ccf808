"""What earlier runs have changed of the film itself, to be taken back: joins moved, pauses opened.

A change is found again by what is played on both sides of it, wherever the film was cut since.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from mltassist.frames import Span
from mltassist.timeline.model import Clip, Timeline, Track


class EditPoint(NamedTuple):
    """What meets on one track: the last frame of a file, and the first of another; by their file names."""

    file: str
    last: int
    next_file: str
    first: int


class RunOn(NamedTuple):
    """A clip that plays on through a pause: its file, its last frame before the pause, and for how long."""

    file: str
    last: int
    frames: int


@dataclass(frozen=True, slots=True)
class Nudged:
    """A join that was moved. sides: as they are since, on every track on which it was moved alike."""

    before_by: int
    after_by: int
    sides: tuple[EditPoint, ...]


@dataclass(frozen=True, slots=True)
class Opened:
    """A pause of `length` frames at frame `at`, as it then lay.

    sides: what lies before and after it, on tracks that have both. splits: those of them that were one clip.
    """

    at: int
    length: int
    sides: tuple[EditPoint, ...]
    splits: tuple[EditPoint, ...] = ()
    runs: tuple[RunOn, ...] = ()


Change = Nudged | Opened


def join_of(change: Nudged, timeline: Timeline) -> tuple[int, tuple[int, ...]] | None:
    """The frame at which a moved join lies, and the numbers of its tracks; None where it is changed since."""
    found: dict[int, dict[EditPoint, int]] = {}
    for track in _own(timeline):
        for at, side in _meeting(track, 0):
            if side in change.sides:
                found.setdefault(at, {})[side] = track.index
    whole = [(at, rows) for at, rows in found.items() if set(rows) == set(change.sides)]
    if len(whole) != 1:
        return None
    at, _ = whole[0]
    here = ((track.index, where) for track in _own(timeline) for where in _meeting(track, 0))
    return at, tuple(index for index, (place, side) in here if place == at and side in change.sides)


def pause_of(change: Opened, timeline: Timeline) -> int | None:
    """The frame at which an opened pause lies; None where it is not empty, or its sides are changed."""
    places = {change.at}
    for number, side in enumerate(change.sides):
        here = {at for t in _own(timeline) for at, found in _meeting(t, change.length) if found == side}
        places = here if number == 0 else places & here
    free = [at for at in sorted(places, key=lambda at: abs(at - change.at)) if _is_free(change, timeline, at)]
    return free[0] if free else None


def _own(timeline: Timeline) -> Iterator[Track]:
    return (track for track in timeline.tracks if not track.ours)


def _meeting(track: Track, apart: int) -> Iterator[tuple[int, EditPoint]]:
    """Where one clip ends and another begins so many frames later, with nothing in between."""
    begins = {clip.start: clip for clip in track.clips()}
    spans = [clip.span for clip in track.clips()] if apart else []
    for clip in track.clips():
        after, gap = begins.get(clip.span.end + apart), Span(clip.span.end, clip.span.end + apart)
        if after is not None and after is not clip and not any(span.overlaps(gap) for span in spans):
            yield clip.span.end, side_of(clip, after)


def side_of(before: Clip, after: Clip) -> EditPoint:
    """What two clips that meet play there."""
    return EditPoint(
        name_of(before), before.source_frame(before.span.end - 1), name_of(after), after.source_in
    )


def name_of(clip: Clip) -> str:
    """What a clip plays, by its file name: a project may move to another folder."""
    return Path(clip.source.key).name


def _is_free(change: Opened, timeline: Timeline, at: int) -> bool:
    """True where nothing lies in the pause but what has played on through it."""
    pause = Span(at, at + change.length)
    ran = {(run.file, run.last): run.frames for run in change.runs}
    for track in timeline.tracks:
        for clip in track.clips():
            if not clip.span.overlaps(pause):
                continue
            frames = ran.get((name_of(clip), clip.source_frame(at - 1))) if clip.start <= at else None
            if track.ours or frames is None or clip.span.end < at + frames:
                return False
    return True
