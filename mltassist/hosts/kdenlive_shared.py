"""What Kdenlive's documents of all generations have in common."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath
from typing import ClassVar

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.placing import insert_after
from mltassist.frames import Span
from mltassist.hosts.base import OUR_TRACKS, Host, neighbour
from mltassist.hosts.bins import BINS, tags_in
from mltassist.hosts.groups import move_links
from mltassist.hosts.parts import Parts
from mltassist.hosts.ripple import renumber_transitions
from mltassist.hosts.sources import source_of
from mltassist.timeline.model import BinClip, Marker, TrackKind

DOCUMENT = "kdenlive:docproperties."
"""Begins the names of what the bin says of the document."""


class KdenliveShared(Host):
    """The answers that every generation gives alike."""

    name = "kdenlive"
    ending = ".kdenlive"
    caption = "kdenlive:clipname"  # which copies carry too
    record = DOCUMENT + "mltassist"
    keys_from_source = True
    placing: ClassVar[Mapping[str, str]] = {
        "mlt_service": "qtblend",
        "kdenlive_id": "qtblend",
        "compositing": "0",
        "distort": "0",
    }
    rectangle = "rect"

    def record_home(self, parts: Parts, timeline: Element) -> Element | None:
        """The bin, among the document's own properties, which the host carries over whole."""
        return bin_of(parts.root)


def bin_of(root: Element) -> Element | None:
    """The playlist that carries the bin and the document's properties."""
    return next(
        (
            part
            for part in root.iterchildren("playlist")
            if part.get("id") in BINS and properties.get(part, DOCUMENT + "version") is not None
        ),
        None,
    )


def folder_of(root: Element, number: str) -> str:
    """Names of a folder and those above it, joined by "/"; "" at the top."""
    listing = bin_of(root)
    if listing is None:
        return ""
    above: dict[str, tuple[str, str]] = {}
    for name, value in properties.all_of(listing).items():
        if name.startswith("kdenlive:folder."):
            parent, _, child = name.removeprefix("kdenlive:folder.").rpartition(".")
            above[child] = (parent, value)
    names: list[str] = []
    while number in above and len(names) < len(above):
        number, name = above[number]
        names.append(name)
    return "/".join(reversed(names))


def main_tractor(root: Element) -> Element | None:
    """The timeline of documents whose tracks are plain playlists (up to 0.96)."""
    return next((part for part in root.iterchildren("tractor") if part.get("id") == "maintractor"), None)


def sequences_of(root: Element) -> dict[str, Element]:
    """Sequences by their uuid, in the order of the document."""
    return {
        uuid: part for part in root.iterchildren("tractor") if (uuid := properties.get(part, "kdenlive:uuid"))
    }


def sequences_named(root: Element) -> dict[str, Element]:
    """Sequences by the name the editor gave them; the first where two have the same."""
    found: dict[str, Element] = {}
    for uuid, part in sequences_of(root).items():
        found.setdefault(properties.get(part, "kdenlive:clipname") or uuid, part)
    return found


def bin_clip(parts: Parts, part: Element, *, key: str, markers: tuple[Marker, ...] = ()) -> BinClip:
    """A clip of the bin with what its own properties say."""
    source = source_of(parts, part)
    zones: tuple[Span, ...] = ()
    if out := properties.get(part, "kdenlive:zone_out"):
        zone = Span(parts.frames(properties.get(part, "kdenlive:zone_in")), parts.frames(out) + 1)
        zones = (zone,) if 0 < zone.length < source.length else ()
    return BinClip(
        key=key or source.key,
        name=properties.get(part, "kdenlive:clipname") or PurePath(source.key).stem,
        source=source,
        folder=folder_of(parts.root, properties.get(part, "kdenlive:folderid") or "-1"),
        # The host may store a tag as its colour alone, which says nothing.
        tags=tuple(t for t in tags_in(properties.get(part, "kdenlive:tags")) if not t.startswith("#")),
        notes=properties.get(part, "kdenlive:description") or "",
        zones=zones,
        markers=markers,
    )


def place_mark(
    host: Host, parts: Parts, timeline: Element, mark: Element, role: str, *, over: int | None
) -> int:
    """Put a new track of ours in its place, above all pictures or below all sounds; gives its number.

    Tracks of the host's own (its preview) stay above the user's. One that belongs to another track of
    ours, or is to be put over track `over`, comes right above that. Transitions and groups name the tracks
    above it by one more.
    """
    strips = host.strips(parts, timeline)
    marks = list(timeline.iter("track"))
    sound = OUR_TRACKS[role].kind is TrackKind.SOUND
    anchor = marks[0] if sound or not strips else (neighbour(strips, role, over) or strips[-1]).mark
    insert_after(anchor, mark)
    index = marks.index(anchor) + 1
    renumber_transitions(timeline, since=index)
    move_links(host, parts, timeline, lambda track, start: (track + (track >= index), start))
    return index
