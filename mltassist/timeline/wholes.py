"""Clips with the parts of them that dissolves hold: what an editor takes hold of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from mltassist.timeline.model import Clip, Dissolve, Track


def whole_clips(track: Track) -> Iterator[Clip]:
    """The clips of a track in order, each with its halves of the dissolves beside it.

    Two that dissolve overlap. Good for where a clip lies and what it plays; its level curves are those of
    its first part.
    """
    current: Clip | None = None
    begun = False  # true while `current` is no more than what comes in
    for item in track.items:
        if isinstance(item, Clip):
            if current is not None and begun and runs_on(current, item):
                current = _joined(current, item)
            else:
                yield from _some(current)
                current = item
            begun = False
        elif isinstance(item, Dissolve):
            if current is not None and runs_on(current, item.outgoing):
                yield _joined(current, item.outgoing)
            else:
                yield from _some(current)
                yield item.outgoing
            # What comes in goes on after the dissolve, in the item that follows.
            current, begun = item.incoming, True
        else:
            yield from _some(current)
            current = None
    yield from _some(current)


def uncut(track: Track) -> Iterator[tuple[Clip, ...]]:
    """The whole clips of a track, those together that were one and were cut with nothing removed."""
    run: list[Clip] = []
    for clip in whole_clips(track):
        if run and not runs_on(run[-1], clip):
            yield tuple(run)
            run = []
        run.append(clip)
    if run:
        yield tuple(run)


def runs_on(earlier: Clip, later: Clip) -> bool:
    """True when a piece of a track plays on where another one ends."""
    off = abs(later.source_in - earlier.source_frame(earlier.span.end))
    return (
        later.start == earlier.span.end
        and later.source == earlier.source
        and later.speed == earlier.speed
        and off <= (0 if earlier.plain_speed else 1)  # points of a changed speed are rounded
    )


def _some(clip: Clip | None) -> Iterator[Clip]:
    if clip is not None:
        yield clip


def _joined(earlier: Clip, later: Clip) -> Clip:
    return replace(earlier, length=earlier.length + later.length)
