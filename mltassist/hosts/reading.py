"""A document as a timeline, through any host."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path, PurePath
from typing import cast

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.load import Document
from mltassist.errors import NoSuchPlace, NotAProject
from mltassist.files import here
from mltassist.frames import Span
from mltassist.hosts.base import Host, Strip
from mltassist.hosts.blends import blends
from mltassist.hosts.dissolves import dissolve_halves
from mltassist.hosts.groups import linked
from mltassist.hosts.levels import curves
from mltassist.hosts.markers import as_markers
from mltassist.hosts.parts import PRODUCERS, Parts, Spot
from mltassist.hosts.records import stored_record
from mltassist.hosts.reframing import WHOLE_FRAME, framing
from mltassist.hosts.sources import keeps_pitch, plays, remap_of, source_of, speed_of, stream_of
from mltassist.hosts.veils import veil_of
from mltassist.timeline.model import (
    NO_VEIL,
    Clip,
    Dissolve,
    Gap,
    Item,
    Source,
    Timeline,
    Track,
    TrackKind,
)
from mltassist.timeline.quick import clips_like, gap

_WHOLE = WHOLE_FRAME.zoom
_FILTERED = etree.XPath("entry/filter/..")

_MANY = 5000
"""Objects of a film that are worth the trouble."""


@contextmanager
def uncollected() -> Iterator[None]:
    """Nothing that is made within is thrown away soon: the collector would look through it in vain.

    Nor does it afterwards: what is frozen and thawed lies with what is old, unlooked at.
    """
    collected = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collected:
            # What somebody wants to stay frozen stays so; to ask takes long where there is much of it.
            if gc.get_count()[0] > _MANY and not gc.get_freeze_count():
                gc.freeze()
                gc.unfreeze()
            gc.enable()


@uncollected()
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
        shape=document.shape,
        tracks=tuple(reader.track(strip) for strip in host.strips(parts, timeline)),
        bin=tuple(clip for _, clip in host.bin_clips(parts)),
        markers=as_markers(host.read_markers(parts, timeline)),
        linked=linked(host, parts, timeline),
        sequences=host.sequences(parts),
        laid=record.laid if record.known else None,
        changes=record.changes,
        levels=curves(parts, timeline, 0),
        blends=blends(parts, timeline),
        subtitles=tuple(here(beside(document, name)) for name in host.subtitle_files(parts, timeline)),
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


@dataclass(frozen=True, slots=True, eq=False)
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
    plain: bool = False
    """Its clips differ in their places alone: no filter, no other speed, and it is no dissolve."""


_Alike = Callable[[int, int, int], Clip]
"""Makes a clip of a part by its start, its length and the first frame of the part."""


class _Reader:
    """Remembers what each part is, since a film plays the same few parts hundreds of times."""

    def __init__(self, host: Host, parts: Parts) -> None:
        self.host, self.parts = host, parts
        self.known: dict[Element, _Played] = {}
        self.alike: dict[tuple[str, str], _Played] = {}
        self._holders: dict[Element, tuple[Element, ...]] = {}
        self._hung: dict[Element, tuple[Element, ...]] = {}
        self.warnings = parts.warnings

    def played(self, part: Element) -> _Played:
        found = self.known.get(part)
        if found is None:
            found = self.known[part] = self._alike(part)
        return found

    def _alike(self, part: Element) -> _Played:
        """What a part is; parts that differ in their ids alone are one, where every clip has its own."""
        if part.tag not in PRODUCERS:
            return self._played(part)
        start, _, rest = etree.tostring(part, encoding="unicode", with_tail=False).partition(">")
        start = start.replace(f' id="{part.get("id")}"', "")
        found = self.alike.get((start, rest))
        if found is None:
            found = self.alike[start, rest] = self._played(part)
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
        speed, remap = speed_of(part, values), remap_of(self.parts, part)
        if speed != 1:  # a part counts what it plays, at its speed
            source = replace(source, length=int(source.length * abs(speed) // 1))
        return _Played(
            source,
            picture,
            sound,
            name,
            filters,
            self.parts.begins(part),
            speed,
            stream_of(part, values),
            remap,
            keeps_pitch(values),
            plain=not filters and speed == 1 and not remap,
        )

    def track(self, strip: Strip) -> Track:
        layers = [self.items(strip, playlist) for playlist in strip.playlists]
        return Track(
            index=strip.index,
            kind=strip.kind,
            name=strip.name,
            items=tuple(overlaid(layers)),
            has_sound=strip.has_sound,
            locked=strip.locked,
            hidden=strip.hidden,
            muted=strip.muted,
            levels=tuple(curve for holder in self.holders(strip) for curve in curves(self.parts, holder, 0)),
            ours=strip.role,
        )

    def items(self, strip: Strip, playlist: Element) -> list[Item]:
        filtered = set(cast("list[Element]", _FILTERED(playlist)))
        # What hangs on the track takes every entry the long way only where it changes what is seen.
        all_filtered = veil_of(self.parts, ((holder, 0) for holder in self.hung(strip))) != NO_VEIL

        def alike(part: Element) -> _Alike | None:
            return None if all_filtered else self.same(strip, self.played(part))

        # Rows first: where clips are made while the document is walked, both take longer.
        rows, others = self.parts.rows(playlist, alike, filtered)
        found: list[Item] = [
            gap(start, length) if make is None else make(start, length, first)
            for start, length, first, make in rows
        ]
        for number, (element, part) in others.items():
            start, length, first, _ = rows[number]
            found[number] = self.item(strip, Spot(element, start, length, first), part)
        return found

    def same(self, strip: Strip, played: _Played) -> _Alike | None:
        """What makes the clips of a part on a track; None where they differ in more than their places."""
        if not played.plain:
            return None
        picture, sound = self.streams(strip, played)
        one = Clip(
            start=0,
            length=1,
            source=played.source,
            source_in=played.own_in,
            name=played.name,
            plays_picture=picture,
            plays_sound=sound,
            sound_stream=played.stream,
            zoom=_WHOLE,
            keeps_pitch=played.keeps_pitch,
        )
        return clips_like(one)

    @staticmethod
    def streams(strip: Strip, played: _Played) -> tuple[bool, bool]:
        """Whether picture and sound of what a part is are played on a track."""
        return (
            played.picture and played.source.has_picture and strip.kind is TrackKind.PICTURE,
            played.sound and played.source.has_sound and strip.has_sound,
        )

    def item(self, strip: Strip, spot: Spot, part: Element) -> Item:
        """The clip or the dissolve that an entry is."""
        halves = dissolve_halves(self.parts, part)
        if halves is None:
            return self.clip(strip, spot, part)
        out, into = halves
        return Dissolve(
            spot.start,
            spot.length,
            self.clip(strip, spot._replace(first=out.first), out.part, entry_first=spot.first),
            self.clip(strip, spot._replace(first=into.first), into.part, entry_first=spot.first),
        )

    def clip(self, strip: Strip, spot: Spot, part: Element, *, entry_first: int | None = None) -> Clip:
        """The clip of a part; `entry_first`: where the entry begins, if `spot.first` counts in its half."""
        played = self.played(part)
        offset = spot.start - spot.first
        offset_of_entry = spot.start - (spot.first if entry_first is None else entry_first)
        filtered = [part] if played.has_filters and part.tag in PRODUCERS else []
        if next(spot.element.iterchildren("filter"), None) is not None:
            filtered.insert(0, spot.element)
        framed = framing(self.parts, filtered) if filtered else WHOLE_FRAME
        hanging = [(part, offset_of_entry if part is spot.element else offset) for part in filtered]
        levels = tuple(curve for home, at in hanging for curve in curves(self.parts, home, at))
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
        picture, sound = self.streams(strip, played)
        return Clip(
            start=spot.start,
            length=spot.length,
            source=played.source,
            source_in=first,
            name=played.name,
            plays_picture=picture,
            plays_sound=sound,
            speed=speed,
            levels=levels,
            remap=remap,
            sound_stream=played.stream,
            reframed=framed.reframed,
            zoom=framed.zoom,
            keeps_pitch=played.keeps_pitch,
            veil=veil_of(self.parts, (*hanging, *((holder, 0) for holder in self.hung(strip)))),
            fills=framed.fills,
        )

    def holders(self, strip: Strip) -> tuple[Element, ...]:
        """The parts of a track on which filters for all its clips hang; a look passes all clips."""
        if strip.holder not in self._holders:
            both = dict.fromkeys((strip.holder, *strip.playlists[:1]))
            self._holders[strip.holder] = tuple(
                one for one in both if next(one.iterchildren("filter"), None) is not None
            )
        return self._holders[strip.holder]

    def hung(self, strip: Strip) -> tuple[Element, ...]:
        """Those of them on which another filter than one of volume hangs."""
        if strip.holder not in self._hung:
            self._hung[strip.holder] = tuple(
                holder
                for holder in self.holders(strip)
                if any(
                    properties.get(one, "mlt_service") != "volume" for one in holder.iterchildren("filter")
                )
            )
        return self._hung[strip.holder]


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
