"""What the viewer sees at every frame, told from all tracks and what lays them over each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from mltassist.frames import Span, joined
from mltassist.timeline.blend import Blend, PictureFit
from mltassist.timeline.model import (
    FILM_SHAPE,
    Clip,
    Coverage,
    Dissolve,
    Gap,
    Shapes,
    Source,
    SourceKind,
    Timeline,
    Track,
    TrackKind,
)

_PICTURES = (SourceKind.FILE, SourceKind.IMAGE, SourceKind.COLOUR, SourceKind.SEQUENCE)
BACKGROUND = 0
"""Number of the track that hosts keep black, beneath those of the timeline."""
ALIKE = Fraction(1, 200)
"""Shapes that differ by less are one: as much as rounded pixels of a small picture make, seen by nobody."""


@dataclass(frozen=True, slots=True)
class SeenClip:
    """A clip of which something is seen.

    lettered: an effect writes over it. strips: only its shape leaves some of the frame free.
    shape: in which it lies about the middle of the frame, by that of the film; None where that is not known.
    """

    clip: Clip
    track: Track
    coverage: Coverage
    lettered: bool = False
    strips: bool = False
    shape: Fraction | None = None

    @property
    def is_caption(self) -> bool:
        """True for what is read rather than looked at: a title, letters, a transparent still."""
        still = self.clip.source.kind is SourceKind.IMAGE and self.clip.source.coverage is not Coverage.WHOLE
        return self.lettered or still or self.clip.source.kind is SourceKind.TITLE


@dataclass(frozen=True, slots=True)
class Showing:
    """A stretch with one picture; `clip` and `track` are None where there is nothing but background.

    over: what is seen besides that picture, lowest first: above it, where it hides all beneath. lettered:
    text is written over the picture itself.
    """

    span: Span
    clip: Clip | None
    track: Track | None
    over: tuple[SeenClip, ...] = ()
    lettered: bool = False

    @property
    def captions(self) -> tuple[Clip, ...]:
        """What is to be read here."""
        own = (self.clip,) if self.lettered and self.clip is not None else ()
        return own + tuple(layer.clip for layer in self.over if layer.is_caption)


_BLACK = ("black", "#000000", "#ff000000", "0x000000ff", "255")


def is_black(clip: Clip) -> bool:
    """True for a clip of plain black: an editor's stopgap, in which nothing is seen."""
    made = clip.source.key.rpartition(":")[2].strip().lower()
    return clip.source.kind is SourceKind.COLOUR and made in _BLACK


def showing(timeline: Timeline, *, ours: bool = False) -> tuple[Showing, ...]:
    """The picture from the first frame to the last, in order, without overlap; neighbours differ in it.

    It is the uppermost that hides all beneath it; where none does, the lowest that is seen, unless that is a
    caption. `ours` False leaves out the tracks that an earlier run of ours has added. A dissolve shows its
    incoming clip. What is seen above the picture is told by `layers`.
    """
    result: list[Showing] = []
    for shown in layers(timeline, ours=ours):
        earlier = result[-1] if result else None
        if earlier is not None and earlier.clip is shown.clip and earlier.track is shown.track:
            result[-1] = Showing(Span(earlier.span.start, shown.span.end), shown.clip, shown.track)
        else:
            result.append(Showing(shown.span, shown.clip, shown.track))
    return tuple(result)


def blanks(timeline: Timeline, *, ours: bool = True) -> tuple[Span, ...]:
    """Where there is neither a picture nor anything to read, in order."""
    return joined(
        shown.span
        for shown in layers(timeline, ours=ours)
        if not shown.captions and not shown.over and (shown.clip is None or is_black(shown.clip))
    )


def layers(timeline: Timeline, *, ours: bool = False) -> Iterator[Showing]:
    """The same with all that is seen above the picture: as many stretches as that takes."""
    tracks = [
        track
        for track in timeline.tracks
        if track.kind is TrackKind.PICTURE and not track.hidden and (ours or not track.ours)
    ]
    stack = _Stack(timeline)
    places = [0] * len(tracks)
    for start, end in pairwise(_edges(timeline, tracks)):
        present: list[tuple[Track, Clip]] = []
        for number, track in enumerate(tracks):
            items = track.items
            while places[number] < len(items) and items[places[number]].span.end <= start:
                places[number] += 1
            item = items[places[number]] if places[number] < len(items) else None
            if item is None or isinstance(item, Gap) or item.start > start:
                continue
            clip = item.incoming if isinstance(item, Dissolve) else item
            if clip.plays_picture:
                present.append((track, clip))
        yield _shown(Span(start, end), stack.at(start, present))


def _edges(timeline: Timeline, tracks: list[Track]) -> list[int]:
    spans = [item.span for track in tracks for item in track.items]
    spans += [blend.span for blend in timeline.blends or () if blend.span is not None]
    for clip in (clip for track in tracks for clip in track.clips()):
        for veil in (*clip.veil.thin, *clip.veil.gone, *clip.veil.lettered):
            inside = veil.shared(clip.span)
            spans += [inside] if inside.length > 0 else []
    length = timeline.length
    edges = {frame for span in spans for frame in (span.start, span.end) if 0 < frame < length}
    return sorted({0, length} | edges)


class _Stack:
    """What lies over what, as the engine puts a frame together.

    Measured on melt 7.12 (tests/hosts/test_seen.py): the transitions act in their order. One lays what its
    upper track shows over what its lower track shows, and the upper track is used up. Where the lower one
    shows nothing, or is used up, the next above it serves that is beneath the upper; it does nothing where
    there is none, or where the upper one shows nothing. What is seen is the uppermost track that is left;
    but beside tracks that are laid, one that is not and on which effects work may be left out.
    """

    def __init__(self, timeline: Timeline) -> None:
        self.blends = timeline.blends
        self.unknown = any(blend.unknown for blend in timeline.blends or ())
        self.background = all(track.index != BACKGROUND for track in timeline.tracks)

    def at(self, frame: int, present: list[tuple[Track, Clip]]) -> list[SeenClip]:
        """The layers of a frame that can be seen, lowest first; the lowest of all hides the rest.

        A nested edit may have a hole here, which is as if it were not there; a transition that nobody knows
        may do anything. What is seen one way or the other, is seen.
        """
        found = self._found(frame, present, self.blends)
        others = [
            self._found(frame, [row for row in present if row is not one], self.blends)
            for one in present
            if one[1].source.kind is SourceKind.SEQUENCE and one[1].source.coverage is Coverage.PART
        ]
        if self.unknown:
            others.append(self._found(frame, present, None))
        return _either(found, others) if others else found

    def _found(
        self, frame: int, present: list[tuple[Track, Clip]], blends: Sequence[Blend] | None
    ) -> list[SeenClip]:
        rows = {track.index: [_layer(track, clip, frame)] for track, clip in present}
        if blends is None or not rows:
            return _hiding([_through(_PLAIN, layer) for row in rows.values() for layer in row])
        if self.background:
            rows[BACKGROUND] = []
        before = len(rows)
        for blend in blends:
            if blend.span is not None and frame not in blend.span:
                continue
            first, last = blend.lower, blend.upper
            if first > last:
                first, last = last, first
            if last not in rows:
                continue
            while first < last and first not in rows:
                first += 1
            if first == last:
                continue
            onto, over = (first, last) if blend.lower < blend.upper else (last, first)
            rows[onto] += [_through(blend, layer) for layer in rows.pop(over)]
        top = max(rows)
        found = rows[top]
        worked = any(layer.clip.veil.worked or layer.clip.veil.placed for layer in found)
        if worked and len(rows) < before and any(rows[index] for index in rows if index != top):
            return [_through(_THIN, layer) for index in sorted(rows) for layer in rows[index]]
        if found and (top != BACKGROUND or not self.background):
            found[0] = replace(found[0], coverage=Coverage.WHOLE, strips=False)
        return _hiding(found)


_PLAIN = Blend(BACKGROUND, BACKGROUND)
_THIN = Blend(BACKGROUND, BACKGROUND, thin=True)


def _through(blend: Blend, layer: SeenClip) -> SeenClip:
    # Only one that keeps to the middle of the frame tells how a picture lies in it.
    middle = blend.fit is PictureFit.PLACED and not blend.thin
    shape = layer.shape if middle else None
    if blend.thin:  # some ways of mixing show what is transparent
        return replace(layer, coverage=Coverage.PART, strips=False, shape=shape)
    if layer.coverage is Coverage.WHOLE and not _fills(blend, layer.clip):
        return replace(layer, coverage=Coverage.PART, strips=True, shape=shape)
    return layer if middle else replace(layer, shape=shape)


def _fills(blend: Blend, clip: Clip) -> bool:
    """True where the whole frame lies under the picture of a clip; one that nobody has looked at fills it.

    Measured on melt 7.12 with every kind of transition: what a picture of another shape leaves free is
    transparent. Only where nothing lays it over another is it black.
    """
    if blend.fit is PictureFit.STRETCHED:
        return True
    if blend.fit is PictureFit.OWN and clip.source.small:
        return False
    return is_shaped(clip.source, clip.fills if blend.fit is PictureFit.PLACED else FILM_SHAPE)


def is_shaped(source: Source, shapes: Shapes = FILM_SHAPE) -> bool:
    """True of a picture of one of the shapes that fill the frame, as far as is known of its own."""
    narrow, wide = shapes
    return source.shape is None or narrow * (1 - ALIKE) <= source.shape <= wide * (1 + ALIKE)


def _either(found: list[SeenClip], others: list[list[SeenClip]]) -> list[SeenClip]:
    """All that is seen in one of some ways in which tracks may lie; no more than a part of what differs."""
    ways = [{id(layer.clip): layer.coverage for layer in way} for way in (found, *others)]
    if all(way == ways[0] for way in ways):
        return found
    everything = {id(layer.clip): layer for way in (*others, found) for layer in way}
    merged = []
    for key, layer in everything.items():
        seen = any(way.get(key, Coverage.NONE) is not Coverage.NONE for way in ways)
        merged.append(replace(layer, coverage=Coverage.PART if seen else Coverage.NONE))
    return sorted(merged, key=lambda layer: layer.track.index)


def _hiding(layers: list[SeenClip]) -> list[SeenClip]:
    """The same, in which a picture hides what lies beneath where that leaves as much of the frame free."""
    if not any(layer.strips for layer in layers):
        return layers
    found = []
    for number, layer in enumerate(layers):
        beneath = [one for one in layers[:number] if one.coverage is not Coverage.NONE]
        if layer.strips and beneath and all(_lies_within(one, layer) for one in beneath):
            found.append(replace(layer, coverage=Coverage.WHOLE, strips=False))
        else:
            found.append(layer)
    return found


def _lies_within(lower: SeenClip, upper: SeenClip) -> bool:
    """True when nothing of a picture is seen beside another of another shape than the film's."""
    if is_black(lower.clip):
        return True
    one, other = lower.shape, upper.shape
    if one is None or other is None:
        return False
    return one <= other * (1 + ALIKE) if other < 1 else one >= other * (1 - ALIKE)


def _layer(track: Track, clip: Clip, frame: int) -> SeenClip:
    veil = clip.veil
    lettered = any(frame in span for span in veil.lettered)
    coverage = clip.source.coverage
    if clip.source.kind not in _PICTURES:
        coverage = Coverage.PART
    if coverage is Coverage.WHOLE and (
        clip.reframed or veil.unknown or any(frame in span for span in veil.thin)
    ):
        coverage = Coverage.PART
    if coverage is Coverage.NONE and lettered:
        coverage = Coverage.PART
    if any(frame in span for span in veil.gone):
        coverage = Coverage.NONE
    if coverage is Coverage.NONE and veil.worked:
        coverage = Coverage.PART
    placed = clip.reframed or clip.fills != FILM_SHAPE or clip.source.small
    return SeenClip(clip, track, coverage, lettered, shape=None if placed else clip.source.shape)


def _shown(span: Span, found: list[SeenClip]) -> Showing:
    seen = [layer for layer in found if layer.coverage is not Coverage.NONE]
    whole = [number for number, layer in enumerate(seen) if layer.coverage is Coverage.WHOLE]
    if whole:
        base = whole[-1]
    else:
        base = next(
            (n for n, one in enumerate(seen) if not one.is_caption and one.clip.source.kind in _PICTURES), -1
        )
    if base < 0:
        return Showing(span, None, None, tuple(seen))
    over = tuple(seen[base + 1 :]) if whole else tuple(seen[:base] + seen[base + 1 :])
    return Showing(span, seen[base].clip, seen[base].track, over, lettered=seen[base].lettered)
