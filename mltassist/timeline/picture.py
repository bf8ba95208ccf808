"""What the viewer sees: the uppermost picture at every frame."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from mltassist.frames import Span
from mltassist.timeline.model import Clip, Dissolve, Gap, SourceKind, Timeline, Track, TrackKind

_OPAQUE = (SourceKind.FILE, SourceKind.IMAGE, SourceKind.COLOUR, SourceKind.SEQUENCE)


@dataclass(frozen=True, slots=True)
class Showing:
    """A stretch with one picture; `clip` and `track` are None where there is nothing but background."""

    span: Span
    clip: Clip | None
    track: Track | None


def showing(timeline: Timeline, *, ours: bool = False) -> tuple[Showing, ...]:
    """The uppermost opaque picture from the first frame to the last, in order, without overlap.

    `ours` False leaves out the tracks that an earlier run of ours has added. A dissolve shows its
    incoming clip. Titles are laid over a picture and hide nothing.
    """
    layers = [
        track
        for track in timeline.tracks
        if track.kind is TrackKind.PICTURE and not track.hidden and (ours or not track.ours)
    ]
    edges = sorted(
        {0, timeline.length}
        | {frame for track in layers for item in track.items for frame in (item.span.start, item.span.end)}
    )
    places = [0] * len(layers)
    result: list[Showing] = []
    for start, end in pairwise(edges):
        clip: Clip | None = None
        on: Track | None = None
        for number in range(len(layers) - 1, -1, -1):
            items = layers[number].items
            while places[number] < len(items) and items[places[number]].span.end <= start:
                places[number] += 1
            item = items[places[number]] if places[number] < len(items) else None
            if item is None or isinstance(item, Gap) or item.start > start:
                continue
            found = item.incoming if isinstance(item, Dissolve) else item
            if not found.plays_picture or found.source.kind not in _OPAQUE:
                continue
            # A picture that is cropped or moved may show what lies beneath: the lowest is what counts.
            clip, on = found, layers[number]
            if not found.reframed:
                break
        earlier = result[-1] if result else None
        if earlier is not None and earlier.clip is clip and earlier.track is on:
            result[-1] = Showing(Span(earlier.span.start, end), clip, on)
        else:
            result.append(Showing(Span(start, end), clip, on))
    return tuple(result)
