"""Shotcut's documents: playlists as tracks, a private part for every clip, markers in the timeline."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import PurePath
from typing import ClassVar

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.placing import detach, insert_after_properties
from mltassist.document.values import whole
from mltassist.frames import Span
from mltassist.hosts.base import OUR_TRACKS, Host, Strip, entry_of, neighbour, sibling_copy
from mltassist.hosts.bins import bin_listing, listed, tags_in
from mltassist.hosts.levels import VOLUME
from mltassist.hosts.parts import Parts
from mltassist.hosts.sources import silence, source_of
from mltassist.hosts.stored import Kept, StoredMarker
from mltassist.hosts.tracks import (
    PlaylistNames,
    add_blend,
    add_mark,
    add_mix,
    new_playlist,
    playlist_strip,
    tracks_of,
)
from mltassist.timeline.model import BinClip, TrackKind

_NAMES = PlaylistNames("shotcut:name", "shotcut:lock", "shotcut:audio", "shotcut:video", indent="  ")
_MARKERS = "shotcut:markers"
_COLOUR = "#0072B2"  # Okabe and Ito's blue


class Shotcut(Host):
    """A tractor with the property `shotcut`."""

    name = "shotcut"
    caption = "shotcut:caption"
    record = "shotcut:mltassist"  # the host keeps only those that begin with its own name
    volume: ClassVar[Mapping[str, str]] = {**VOLUME, "channel_mask": "-1"}
    placing: ClassVar[Mapping[str, str]] = {
        "mlt_service": "affine",
        "shotcut:filter": "affineSizePosition",
        "transition.fill": "1",
        "transition.distort": "0",
        "transition.halign": "center",
        "transition.valign": "middle",
    }
    rectangle = "transition.rect"
    private_parts = True

    # --- reading ---

    def owns(self, root: Element) -> bool:
        """True when a tractor says so; a clip that is another project says it on a producer."""
        return _main(root) is not None or (root.get("title") or "").startswith("Shotcut version")

    def timeline(self, parts: Parts) -> Element | None:
        """The tractor with the property; dissolves are tractors too and come before it."""
        return _main(parts.root)

    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """Tracks by the property on their playlist; `hide` only says what is switched off."""
        return [
            playlist_strip(_NAMES, index, mark, holder)
            for index, mark, holder in tracks_of(parts, timeline, "playlist")
            if holder.get("id") != "background"
        ]

    def bin_clips(self, parts: Parts) -> Iterator[tuple[Element, BinClip]]:
        """Clips of the playlist main_bin, each with the range its entry marks."""
        for part, entry in listed(parts, bin_listing(parts)):
            yield part, _bin_clip(parts, part, entry)

    def read_markers(self, parts: Parts, timeline: Element) -> tuple[StoredMarker | Kept, ...] | None:
        """The markers of the timeline; both their ends are stored."""
        return tuple(_marker(parts, item) for item in _marker_items(timeline))

    # --- writing ---

    def make_strip(self, parts: Parts, timeline: Element, role: str, over: int | None = None) -> None:
        """A playlist of ours, the last track but for one that belongs to another, with its mix and blend."""
        mark = new_playlist(_NAMES, parts, timeline, role)
        strips = self.strips(parts, timeline)
        lowest = min((s.index for s in strips if s.kind is TrackKind.PICTURE), default=0)
        index = add_mark(timeline, mark, neighbour(strips, role, over))
        add_mix(parts, timeline, index)
        if OUR_TRACKS[role].kind is TrackKind.PICTURE:
            add_blend(parts, timeline, index, {"threads": "0", "disable": "0"}, lowest)

    def new_entry(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> Element:
        """A private copy for this one clip, its unwanted stream switched off."""
        copy = sibling_copy(parts, part, part.tag, strip.role, user=strip)
        silence(copy, picture=picture, sound=sound)
        return entry_of(copy)

    def write_markers(
        self, parts: Parts, timeline: Element, markers: tuple[StoredMarker | Kept, ...]
    ) -> None:
        """New ones come last; where some go, the others are numbered on without a hole."""
        staying = [marker.stored for marker in markers]
        doomed = [item for item in _marker_items(timeline) if item not in staying]
        for item in doomed:
            detach(item)
        for number, item in enumerate(_marker_items(timeline) if doomed else ()):
            item.set("name", str(number))
        for marker in markers:
            if isinstance(marker, StoredMarker) and marker.stored is None:
                _add_marker(parts, timeline, marker)
            elif isinstance(marker, StoredMarker):
                for name, frame in (("start", marker.at), ("end", marker.end)):
                    stored = parts.frames(properties.get(marker.stored, name), missing=-1)
                    if frame is not None and frame != stored:
                        properties.put(marker.stored, name, parts.write(frame))


def _main(root: Element) -> Element | None:
    return next(
        (part for part in root.iterchildren("tractor") if properties.get(part, "shotcut") == "1"), None
    )


def _bin_clip(parts: Parts, part: Element, entry: Element) -> BinClip:
    """A clip of the bin: tags are the words of its comment, its range is the entry's."""
    source = source_of(parts, part)
    zones: tuple[Span, ...] = ()
    if entry.get("out"):
        marked = Span(parts.frames(entry.get("in")), parts.frames(entry.get("out")) + 1)
        zones = (marked,) if source.length and marked != Span(0, source.length) else ()
    comment = properties.get(part, "shotcut:comment") or ""
    return BinClip(
        key=source.key,
        name=properties.get(part, Shotcut.caption) or PurePath(source.key).stem,
        source=source,
        tags=tags_in(comment.partition("\n")[0]),
        notes=comment.partition("\n")[2],
        zones=zones,
    )


def _marker_list(timeline: Element) -> Element | None:
    return next((c for c in timeline.iterchildren("properties") if c.get("name") == _MARKERS), None)


def _marker_items(timeline: Element) -> list[Element]:
    holder = _marker_list(timeline)
    return [] if holder is None else list(holder.iterchildren("properties"))


def _marker(parts: Parts, item: Element) -> StoredMarker | Kept:
    start, end = (parts.frames(properties.get(item, name), missing=-1) for name in ("start", "end"))
    text = properties.get(item, "text") or ""
    return Kept(item) if start < 0 else StoredMarker(start, text, end if end >= 0 else None, stored=item)


def _add_marker(parts: Parts, timeline: Element, marker: StoredMarker) -> None:
    """A marker without length, after the others."""
    holder = _marker_list(timeline)
    if holder is None:
        holder = etree.Element("properties", name=_MARKERS)
        insert_after_properties(timeline, holder)
    number = max((whole(item.get("name")) or 0 for item in holder), default=-1) + 1
    item = etree.SubElement(holder, "properties", name=str(number))
    at = parts.write(marker.at)
    for name, value in (("text", marker.text), ("start", at), ("end", at), ("color", _COLOUR)):
        properties.put(item, name, value)
    etree.indent(holder, "  ", level=2)
