"""Kdenlive's documents up to 0.96: tracks are plain playlists, and every track carries sound.

A clip names its bin clip by the id of the part it plays (`7`, `7_playlist3`, `7_video`); markers are
properties whose names hold seconds; groups are XML.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from fractions import Fraction
from itertools import count
from typing import ClassVar

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.placing import detach
from mltassist.document.values import MAX_DEPTH, number, whole
from mltassist.frames import Rate
from mltassist.hosts.base import OUR_TRACKS, Strip, entry_of, sibling_copy
from mltassist.hosts.bins import listed
from mltassist.hosts.kdenlive_shared import KdenliveShared, bin_clip, bin_of, main_tractor, place_mark
from mltassist.hosts.levels import VOLUME
from mltassist.hosts.parts import Parts
from mltassist.hosts.sources import silence, source_of
from mltassist.hosts.stored import Group, Grouped, Kept, Member, StoredMarker
from mltassist.hosts.tracks import (
    PlaylistNames,
    add_blend,
    add_mix,
    new_playlist,
    playlist_strip,
    tracks_of,
)
from mltassist.timeline.model import BinClip, Marker, SourceKind, TrackKind

_NAMES = PlaylistNames("kdenlive:track_name", "kdenlive:locked_track", "kdenlive:audio_track")
_MARKER = "kdenlive:guide."
_CLIP_MARKER = "kdenlive:marker."
_GROUPS = "kdenlive:clipgroups"
_TOO_DEEP = etree.XPath(f"boolean({'/*' * (MAX_DEPTH + 1)})")
_ADDED_BY_HOST = {"internal_added": "237"}


class KdenliveOld(KdenliveShared):
    """A bin playlist with the document's version, and a tractor called maintractor."""

    volume: ClassVar[Mapping[str, str]] = {
        **VOLUME,
        "kdenlive_id": "volume",
        "tag": "volume",
        "kdenlive_ix": "1",
    }

    # --- reading ---

    def owns(self, root: Element) -> bool:
        """True when the old main tractor is there."""
        return bin_of(root) is not None and main_tractor(root) is not None

    def timeline(self, parts: Parts) -> Element | None:
        """The tractor of that name."""
        return main_tractor(parts.root)

    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """Playlists after the black track, in the order of the tracks; their ids say nothing."""
        return [
            playlist_strip(_NAMES, index, mark, holder)
            for index, mark, holder in tracks_of(parts, timeline, "playlist")
            if index and not _is_preview(holder)
        ]

    def bin_clips(self, parts: Parts) -> Iterator[tuple[Element, BinClip]]:
        """Clips of the bin; their id is that of their part, their markers are properties of the bin."""
        listing = bin_of(parts.root)
        marked = properties.all_of(listing) if listing is not None else {}
        for part, _ in listed(parts, listing):
            identity = part.get("id", "")
            markers = tuple(_clip_markers(marked, identity, parts.rate))
            yield part, bin_clip(parts, part, key=identity, markers=markers)

    def read_markers(self, parts: Parts, timeline: Element) -> tuple[StoredMarker | Kept, ...] | None:
        """Properties of the bin whose names hold their seconds."""
        return tuple(StoredMarker(at, item.text or "", stored=item) for item, at in _markers(parts).items())

    def read_groups(self, parts: Parts, timeline: Element) -> tuple[Grouped, ...] | None:
        """XML in a property of the bin; two clips that start together are picture and sound of one."""
        groups = _groups_xml(parts)
        return None if groups is None else tuple(_read(element) for element in groups)

    # --- writing ---

    def make_strip(self, parts: Parts, timeline: Element, role: str, over: int | None = None) -> None:
        """A playlist, its track, and the automatic mix every track has; for pictures the blend too."""
        mark = new_playlist(_NAMES, parts, timeline, role)
        index = place_mark(self, parts, timeline, mark, role, over=over)
        add_mix(parts, timeline, index, _ADDED_BY_HOST)
        if OUR_TRACKS[role].kind is TrackKind.PICTURE:
            add_blend(parts, timeline, index, {"compositing": "0", "distort": "0", **_ADDED_BY_HOST})

    def new_entry(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> Element:
        """A copy under the id the host would give it: the bin clip's picture, or its sound on one track."""
        if source_of(parts, part).kind is not SourceKind.FILE:
            return entry_of(part)
        own = part.get("id", "")
        wanted = f"{own}_{strip.holder.get('id')}_audio" if sound else f"{own}_video"
        copy = parts.get(wanted)
        if copy is None:
            copy = sibling_copy(parts, part, wanted, strip.role, identity=wanted, user=strip)
            silence(copy, picture=picture, sound=sound)
        return entry_of(copy)

    def write_markers(
        self, parts: Parts, timeline: Element, markers: tuple[StoredMarker | Kept, ...]
    ) -> None:
        """Their names hold their place, so that one frame holds one: a second stands on the next free one."""
        listing, before = bin_of(parts.root), _markers(parts)
        comma = any("," in item.get("name", "") for item in before)
        shown = [marker for marker in markers if isinstance(marker, StoredMarker)]
        staying = {marker.stored: marker.at for marker in shown if marker.stored is not None}
        for item in before.keys() - staying.keys():
            detach(item)
        for item, at in staying.items():
            if at != before[item]:
                item.set("name", _marker_name(at, parts.rate, comma="," in item.get("name", "")))
        taken = set(staying.values())
        for marker in shown:
            if marker.stored is None and listing is not None:
                at = next(frame for frame in count(marker.at) if frame not in taken)
                taken.add(at)
                properties.put(listing, _marker_name(at, parts.rate, comma=comma), marker.text)

    def write_groups(self, parts: Parts, timeline: Element, groups: tuple[Grouped, ...]) -> None:
        """XML in a property of the bin."""
        listing, root = bin_of(parts.root), _groups_xml(parts)
        if listing is not None and root is not None:
            root[:] = [_written(group) for group in groups]
            properties.put(listing, _GROUPS, etree.tostring(root, encoding="unicode"))


def _is_preview(holder: Element) -> bool:
    return "timeline_preview" in (holder.get("id"), properties.get(holder, "kdenlive:playlistid"))


def _frame_of(seconds: str, rate: Rate) -> int | None:
    found = number(seconds)
    return None if found is None else rate.frames(found)


def _markers(parts: Parts) -> dict[Element, int]:
    """The properties of the bin that are markers, with their frames."""
    listing = bin_of(parts.root)
    return {
        item: frame
        for item in (listing.iterchildren("property") if listing is not None else ())
        if (name := item.get("name") or "").startswith(_MARKER)
        and (frame := _frame_of(name[len(_MARKER) :], parts.rate)) is not None
    }


def _marker_name(frame: int, rate: Rate, *, comma: bool) -> str:
    """The name of a marker, with the shortest decimal of seconds that is read back as its frame."""
    seconds = rate.seconds(frame)
    for digits in range(10):
        text = f"{float(seconds):.{digits}f}"
        if _frame_of(text, rate) == frame and abs(Fraction(text) - seconds) < Fraction(1, 1000):
            break
    return _MARKER + (text.replace(".", ",") if comma else text)


def _clip_markers(marked: dict[str, str], identity: str, rate: Rate) -> Iterator[Marker]:
    """Markers of one bin clip: `<category>:<text>` under `kdenlive:marker.<id>:<seconds>`."""
    start = f"{_CLIP_MARKER}{identity}:"
    for name, value in marked.items():
        if name.startswith(start) and (frame := _frame_of(name[len(start) :], rate)) is not None:
            category, _, text = value.partition(":")
            yield Marker(frame, text, category=category)


def _groups_xml(parts: Parts) -> Element | None:
    """The root of the groups, without any where there are none; None where it cannot be read."""
    listing = bin_of(parts.root)
    text = properties.get(listing, _GROUPS) if listing is not None else None
    if not text or not text.strip():
        return etree.Element("groups")
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
    try:
        found = etree.fromstring(text.encode(), parser)
    except etree.XMLSyntaxError:
        return None
    return None if _TOO_DEEP(found) else found


def _read(element: Element) -> Grouped:
    if element.tag == "clipitem":
        track, position = (whole(element.get(name)) for name in ("track", "position"))
        return Kept(element) if track is None or position is None else Member(track, position, element)
    if element.tag != "group":
        return Kept(element)
    members = tuple(_read(child) for child in element)
    starts = [member.start if isinstance(member, Member) else None for member in members]
    return Group(members, len(starts) == 2 and None not in starts and starts[0] == starts[1], element)


def _written(group: Grouped) -> Element:
    """A new element like the one that was stored, white space included."""
    if isinstance(group, Kept):
        copy: Element = deepcopy(group.stored)
        return copy
    old: Element | None = group.stored
    new = etree.Element("group" if isinstance(group, Group) else "clipitem")
    if old is not None:
        new.text, new.tail = old.text, old.tail
        for name, value in old.attrib.items():
            new.set(name, value)
    if isinstance(group, Group):
        new.extend(_written(member) for member in group.members)
    else:
        for name, place in (("position", group.start), ("track", group.track)):
            if old is None or whole(old.get(name)) != place:
                new.set(name, str(place))
    return new
