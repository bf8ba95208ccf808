"""What the pictures of a timeline hide, where only the files themselves tell."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction

from mltassist.errors import MediaError
from mltassist.findings import Run
from mltassist.media.picture.alpha import SOME, transparent_share
from mltassist.media.picture.shape import size_of
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
from mltassist.timeline.picture import is_shaped

_LOOKED_AT = (SourceKind.FILE, SourceKind.IMAGE)


def looked_through(timeline: Timeline, run: Run) -> Timeline:
    """The timeline with the sources marked of which a part is transparent, or that leave some of it free.

    Only tracks above the lowest of pictures are looked at: elsewhere nothing lies beneath. Where a picture on
    them is of another shape than the film, those of the lowest count too: it may hide one of its own shape.
    A file that cannot be read counts as whole; whoever needs it tells so.
    """
    pictures = [track for track in timeline.tracks if track.kind is TrackKind.PICTURE and not track.hidden]
    if pictures and _is_laid_late(timeline, pictures[0].index):
        upper, lowest = pictures, pictures[:0]
    else:
        upper, lowest = pictures[1:], pictures[:1]
    found: dict[Source, Source] = {}
    wanted = _sources(track for track in upper if not track.ours)
    for source in run.each("looking through pictures", wanted):
        found[source] = _looked_at(timeline, source)
    if any(not is_shaped(source) for source in found.values()):
        found |= {source: _shaped(timeline, source) for source in _sources(lowest) if source not in found}
    changed = {source: seen for source, seen in found.items() if seen != source and not _plain(seen)}
    if not changed:
        return timeline
    return replace(timeline, tracks=tuple(_marked(track, changed) for track in timeline.tracks))


def _is_laid_late(timeline: Timeline, lowest: int) -> bool:
    """True where transitions may lay the lowest track over one that is above it."""
    laid = list(timeline.blends or ())
    late = next((n for n, blend in enumerate(laid) if blend.upper > lowest), len(laid))
    return any(blend.upper < blend.lower for blend in laid) or any(
        blend.upper == lowest for blend in laid[late:]
    )


def _sources(tracks: Iterable[Track]) -> list[Source]:
    """What tracks show that only its files tell of."""
    sources = dict.fromkeys(clip.source for track in tracks for clip in track.clips())
    return [s for s in sources if (s.kind in _LOOKED_AT and s.has_picture and s.path) or s.inside]


def _looked_at(timeline: Timeline, source: Source) -> Source:
    if source.inside:
        parts = [_looked_at(timeline, part) for part in source.inside]
        whole = all(part.coverage is Coverage.WHOLE and is_shaped(part) for part in parts)
        return source if whole else replace(source, coverage=Coverage.PART)
    known = source.coverage is not Coverage.WHOLE
    return _shaped(timeline, source if known else replace(source, coverage=_coverage(source)))


def _coverage(source: Source) -> Coverage:
    if source.path is None:
        return Coverage.WHOLE
    try:
        thin, gone = transparent_share(source.path)
    except MediaError:
        return Coverage.WHOLE
    return Coverage.WHOLE if thin < SOME else Coverage.NONE if gone >= 1 else Coverage.PART


def _shaped(timeline: Timeline, source: Source) -> Source:
    """A source with its shape, by that of the film."""
    if source.path is None or not timeline.shape:
        return source
    try:
        size = size_of(source.path, source.pixel_aspect, source.turned)
    except MediaError:
        return source
    if not size.shape:
        return source
    small = size.width < timeline.width and size.height < timeline.height
    return replace(source, shape=size.shape / timeline.shape, small=small)


def _plain(source: Source) -> bool:
    """True of a picture of which nothing but that it fills the frame was found."""
    return source.coverage is Coverage.WHOLE and not source.small and source.shape == Fraction(1)


def _marked(track: Track, found: Mapping[Source, Source]) -> Track:
    if not any(clip.source in found for clip in track.clips()):
        return track
    return replace(track, items=tuple(_item(item, found) for item in track.items))


def _item(item: Item, found: Mapping[Source, Source]) -> Item:
    match item:
        case Clip():
            return _clip(item, found)
        case Dissolve():
            halves = _clip(item.outgoing, found), _clip(item.incoming, found)
            return replace(item, outgoing=halves[0], incoming=halves[1])
        case _:
            return item


def _clip(clip: Clip, found: Mapping[Source, Source]) -> Clip:
    source = found.get(clip.source)
    return clip if source is None else replace(clip, source=source)
