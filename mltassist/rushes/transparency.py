"""What the pictures of a timeline hide, where only the files themselves tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from mltassist.errors import MediaError
from mltassist.findings import Run
from mltassist.media.picture.alpha import SOME, transparent_share
from mltassist.timeline.model import (
    Clip,
    Coverage,
    Dissolve,
    Item,
    Source,
    SourceKind,
    Timeline,
    Track,
    TrackKind,
)

_LOOKED_AT = (SourceKind.FILE, SourceKind.IMAGE)


def looked_through(timeline: Timeline, run: Run) -> Timeline:
    """The timeline with the sources marked of which a part is transparent, or all.

    Only tracks above the lowest of pictures are looked at: elsewhere nothing lies beneath. A file that
    cannot be read counts as whole; whoever needs it tells so.
    """
    pictures = [track for track in timeline.tracks if track.kind is TrackKind.PICTURE and not track.hidden]
    upper = [clip.source for track in pictures[1:] if not track.ours for clip in track.clips()]
    wanted = [source for source in dict.fromkeys(upper) if source.kind in _LOOKED_AT and source.has_picture]
    found: dict[str, Coverage] = {}
    for source in run.each("looking through pictures", wanted):
        coverage = _coverage(source)
        if coverage is not Coverage.WHOLE:
            found[source.key] = coverage
    if not found:
        return timeline
    return replace(timeline, tracks=tuple(_marked(track, found) for track in timeline.tracks))


def _coverage(source: Source) -> Coverage:
    if source.path is None:
        return Coverage.WHOLE
    try:
        thin, gone = transparent_share(source.path)
    except MediaError:
        return Coverage.WHOLE
    return Coverage.WHOLE if thin < SOME else Coverage.NONE if gone >= 1 else Coverage.PART


def _marked(track: Track, found: Mapping[str, Coverage]) -> Track:
    if not any(clip.source.key in found for clip in track.clips()):
        return track
    return replace(track, items=tuple(_item(item, found) for item in track.items))


def _item(item: Item, found: Mapping[str, Coverage]) -> Item:
    match item:
        case Clip():
            return _clip(item, found)
        case Dissolve():
            halves = _clip(item.outgoing, found), _clip(item.incoming, found)
            return replace(item, outgoing=halves[0], incoming=halves[1])
        case _:
            return item


def _clip(clip: Clip, found: Mapping[str, Coverage]) -> Clip:
    coverage = found.get(clip.source.key)
    return clip if coverage is None else replace(clip, source=replace(clip.source, coverage=coverage))
