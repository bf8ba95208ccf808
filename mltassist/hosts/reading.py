"""A document as a timeline, through any host."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path, PurePath

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.load import Document
from mltassist.errors import NoSuchPlace, NotAProject
from mltassist.frames import Span
from mltassist.hosts.base import Host, Strip
from mltassist.hosts.dissolves import dissolve_halves
from mltassist.hosts.groups import linked
from mltassist.hosts.levels import curves
from mltassist.hosts.markers import as_guides
from mltassist.hosts.parts import PRODUCERS, Parts, Spot
from mltassist.hosts.records import stored_record
from mltassist.hosts.reframing import WHOLE_FRAME, framing
from mltassist.hosts.sources import keeps_pitch, plays, remap_of, source_of, speed_of, stream_of
from mltassist.timeline.model import Clip, Dissolve, Gap, Item, Source, Timeline, Track, TrackKind


def read(host: Host, document: Document) -> Timeline:
    """Read the edit that the document holds open. Raises NotAProject when it holds none."""
    parts = Parts(document)
    timeline = main_timeline(host, parts)
    reader = _Reader(host, parts)
    record = stored_record(host, parts, timeline)
    return Timeline(
        path=document.path,
        host=host.name,
        rate=document.rate,
        width=document.width,
        height=document.height,
        tracks=tuple(reader.track(strip) for strip in host.strips(parts, timeline)),
        bin=tuple(clip for _, clip in host.bin_clips(parts)),
        guides=as_guides(host.read_markers(parts, timeline)),
        linked=linked(host, parts, timeline),
        sequences=host.sequences(parts),
        laid=record.laid if record.known else None,
        levels=curves(parts, timeline, 0),
        subtitles=tuple(beside(document, name) for name in host.subtitle_files(parts, timeline)),
        warnings=tuple(reader.warnings),
    )


def beside(document: Document, name: str) -> Path:
    """A file that a document names, counted from the document's folder."""
    return document.path.resolve().parent / name


def main_timeline(host: Host, parts: Parts) -> Element:
    """The tractor of the edit, or NotAProject where there is none."""
    timeline = host.timeline(parts)
    if parts.document.sequence and parts.document.sequence not in host.sequences(parts):
        known = ", ".join(host.sequences(parts)) or "none"
        raise NoSuchPlace(
            parts.document.path, f"has no sequence {parts.document.sequence!r}", f"its sequences are: {known}"
        )
    if timeline is None:
        raise NotAProject(
            parts.document.path, "has no timeline", "open it in the editor and put clips on a track"
        )
    return timeline


@dataclass(frozen=True, slots=True)
class _Played:
    """What a part is, whoever plays it. own_in: its own first frame, from which entries count."""

    source: Source
    picture: bool
    sound: bool
    name: str
    has_filters: bool
    own_in: int = 0
    speed: Fraction = Fraction(1)
    stream: int = 0
    remap: tuple[tuple[int, Fraction], ...] = ()
    keeps_pitch: bool = False


class _Reader:
    """Remembers what each part is, since a film plays the same few parts hundreds of times."""

    def __init__(self, host: Host, parts: Parts) -> None:
        self.host, self.parts = host, parts
        self.known: dict[str, _Played] = {}
        self.warnings = parts.warnings

    def played(self, part: Element) -> _Played:
        identity = part.get("id", "")
        found = self.known.get(identity)
        if found is None:
            found = self.known[identity] = self._played(part)
        return found

    def _played(self, part: Element) -> _Played:
        values = properties.all_of(part)
        source = source_of(self.parts, part, values)
        if source.proxy:
            self.warnings[f"{source.key} is not there: its proxy is measured instead"] = None
        picture, sound = plays(part, values)
        titled = part.get("title") if part.tag in PRODUCERS else None
        name = (
            values.get(self.host.caption)
            or titled
            or (PurePath(source.key).stem if source.path else source.key)
        )
        filters = next(part.iterchildren("filter"), None) is not None
        if part.tag not in PRODUCERS:
            return _Played(source, picture, sound, name, filters)
        return _Played(
            source,
            picture,
            sound,
            name,
            filters,
            self.parts.frames(part.get("in")),
            speed_of(part, values),
            stream_of(part, values),
            remap_of(self.parts, part),
            keeps_pitch(values),
        )

    def track(self, strip: Strip) -> Track:
        layers = [list(self.items(strip, playlist)) for playlist in strip.playlists]
        holders = dict.fromkeys((strip.holder, *strip.playlists[:1]))
        return Track(
            index=strip.index,
            kind=strip.kind,
            name=strip.name,
            items=tuple(overlaid(layers)),
            has_sound=strip.has_sound,
            locked=strip.locked,
            hidden=strip.hidden,
            muted=strip.muted,
            levels=tuple(curve for holder in holders for curve in curves(self.parts, holder, 0)),
            ours=strip.role,
        )

    def items(self, strip: Strip, playlist: Element) -> Iterator[Item]:
        for spot in self.parts.spots(playlist):
            if spot.length <= 0:
                continue
            part = self.parts.get(spot.element.get("producer"))
            if spot.is_blank or part is None:
                yield Gap(spot.start, spot.length)
            elif (halves := dissolve_halves(self.parts, part)) is not None:
                out, into = halves
                yield Dissolve(
                    spot.start,
                    spot.length,
                    self.clip(strip, spot._replace(first=out.first), out.part, entry_first=spot.first),
                    self.clip(strip, spot._replace(first=into.first), into.part, entry_first=spot.first),
                )
            else:
                yield self.clip(strip, spot, part)

    def clip(self, strip: Strip, spot: Spot, part: Element, *, entry_first: int | None = None) -> Clip:
        """The clip of a part; `entry_first`: where the entry begins, if `spot.first` counts in its half."""
        played = self.played(part)
        offset = spot.start - spot.first
        offset_of_entry = spot.start - (spot.first if entry_first is None else entry_first)
        filtered = [part] if played.has_filters and part.tag in PRODUCERS else []
        if next(spot.element.iterchildren("filter"), None) is not None:
            filtered.insert(0, spot.element)
        framed = framing(self.parts, filtered) if filtered else WHOLE_FRAME
        levels = tuple(
            curve
            for element in filtered
            for curve in curves(self.parts, element, offset_of_entry if element is spot.element else offset)
        )
        first, speed = spot.first + played.own_in, played.speed
        remap = tuple((frame - first, at) for frame, at in played.remap)
        if speed != 1:
            # A part that plays backward counts from the end of what it holds. The engine shows the
            # nearest source frame, half going up; points are rounded down, so they lie a half higher.
            last = self.parts.length_of(part) - 1
            shown = (first if speed > 0 else last - first) * abs(speed) + Fraction(1, 2)
            first = int(shown // 1)
            remap = ((0, shown), (spot.length, shown + spot.length * speed))
        elif remap:
            first = Clip(0, 1, played.source, 0, remap=remap).source_frame(0)
        return Clip(
            start=spot.start,
            length=spot.length,
            source=played.source,
            source_in=first,
            name=played.name,
            plays_picture=played.picture and played.source.has_picture and strip.kind is TrackKind.PICTURE,
            plays_sound=played.sound and played.source.has_sound and strip.has_sound,
            speed=speed,
            levels=levels,
            remap=remap,
            sound_stream=played.stream,
            reframed=framed.reframed,
            zoom=framed.zoom,
            keeps_pitch=played.keeps_pitch,
        )


def overlaid(layers: list[list[Item]]) -> list[Item]:
    """One row of items from the playlists of a track; where two clips overlap they dissolve."""
    if len(layers) == 1 or not any(layers[1:]):
        return layers[0] if layers else []
    solid = sorted(
        (item for layer in layers for item in layer if not isinstance(item, Gap)), key=lambda item: item.start
    )
    result: list[Item] = []
    at = 0
    for entering in solid:
        item = entering
        if item.start > at:
            result.append(Gap(at, item.start - at))
        earlier = result[-1] if result else None
        both = Span(item.start, at)
        if both.length > 0 and isinstance(earlier, Clip) and isinstance(item, Clip):
            result[-1] = part_of(earlier, Span(earlier.start, item.start))
            halves = part_of(earlier, both), part_of(item, both)
            result.append(Dissolve(item.start, both.length, *halves, overlaps=True))
            item = part_of(item, Span(at, item.span.end))
        result.append(item)
        at = max(at, item.span.end)
    return [item for item in result if item.length > 0]


def part_of(clip: Clip, span: Span) -> Clip:
    """The frames of a clip that lie in `span`."""
    skipped = span.start - clip.start
    return replace(
        clip,
        start=span.start,
        length=span.length,
        source_in=clip.source_frame(span.start),
        remap=tuple((frame - skipped, source) for frame, source in clip.remap),
    )
