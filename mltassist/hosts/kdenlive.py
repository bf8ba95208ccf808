"""Kdenlive's documents since tracks became tractors (0.99), with and without sequences (1.1).

Every track is a tractor of two playlists, so that its clips can overlap and dissolve; every clip on the
timeline is a copy of its bin clip, one for each track and half; markers and groups are JSON. What this
module does not know stays as it is.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import ClassVar

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.frames import format_timecode
from mltassist.hosts.base import OUR_TRACKS, MovedFrame, Strip, entry_of, sibling_copy, stands_after
from mltassist.hosts.bins import BINS, listed
from mltassist.hosts.kdenlive_lists import lists_of, read_json_groups, written_groups
from mltassist.hosts.kdenlive_shared import (
    DOCUMENT,
    KdenliveShared,
    bin_clip,
    bin_of,
    main_tractor,
    place_mark,
    sequences_named,
    sequences_of,
)
from mltassist.hosts.lengths import lengthen, lengthen_background, move_end
from mltassist.hosts.levels import VOLUME
from mltassist.hosts.listed import json_list, read_list, written_list
from mltassist.hosts.markers import as_markers, marked_once
from mltassist.hosts.parts import ROLE, Parts
from mltassist.hosts.sources import plays, source_of
from mltassist.hosts.stored import Grouped, Kept, StoredMarker
from mltassist.hosts.tracks import add_blend, add_mix, tracks_of
from mltassist.timeline.model import BinClip, SourceKind, TrackKind

_MARKERS, _GROUPS, _SUBTITLES = "guides", "groups", "subtitlesList"
_POSITIONS = ("position", "zonein", "zoneout")
_TRACK_NUMBERS = ("activeTrack", "audioTarget", "videoTarget")
_MARKER_FIELDS = ("pos", "comment")
_CLIP_MARKERS = "kdenlive:markers"
_NEW_MARKER = {"type": 0}
"""Category of the markers we add: the host's first, which every document has."""
_ADDED_BY_HOST = {"internal_added": "237"}
_AUDIO_TRACK = "kdenlive:audio_track"
_TRACK_NAME = "kdenlive:track_name"
_BIN_ID = "kdenlive:id"
_PROJECT = "kdenlive:projectTractor"


class Kdenlive(KdenliveShared):
    """A bin playlist with the property `kdenlive:docproperties.version`, and tracks that are tractors."""

    marks_clips: ClassVar[bool] = True
    volume: ClassVar[Mapping[str, str]] = {**VOLUME, "kdenlive_id": "volume", "kdenlive:collapsed": "0"}

    # --- reading ---

    def owns(self, root: Element) -> bool:
        """True when the bin carries the document's properties and the old main tractor is not there."""
        return bin_of(root) is not None and main_tractor(root) is None

    def timeline(self, parts: Parts) -> Element | None:
        """The open sequence; in documents without sequences the last tractor."""
        sequences = sequences_of(parts.root)
        if parts.document.sequence:
            return sequences_named(parts.root).get(parts.document.sequence)
        listing = bin_of(parts.root)
        for name in ("activetimeline", "uuid"):
            wanted = properties.get(listing, DOCUMENT + name) if listing is not None else None
            if wanted in sequences:
                return sequences[wanted]
        if sequences:
            return list(sequences.values())[-1]
        tractors = parts.root.iterchildren("tractor", reversed=True)
        return next((part for part in tractors if properties.get(part, _PROJECT) != "1"), None)

    def sequences(self, parts: Parts) -> tuple[str, ...]:
        """Names of the sequences in the document."""
        return tuple(sequences_named(parts.root))

    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """Track tractors after the black track; the first inner track says what is hidden or muted."""
        found = []
        for index, mark, holder in tracks_of(parts, timeline, "tractor"):
            if index == 0:
                continue
            inner = list(holder.iter("track"))
            layers = tuple(p for m in inner if (p := parts.get(m.get("producer"))) is not None)
            sound = properties.get(holder, _AUDIO_TRACK) == "1"
            off = bool(inner) and inner[0].get("hide") == "both"
            found.append(
                Strip(
                    index=index,
                    mark=mark,
                    holder=holder,
                    playlists=layers,
                    kind=TrackKind.SOUND if sound else TrackKind.PICTURE,
                    name=properties.get(holder, _TRACK_NAME) or "",
                    has_sound=sound and not off,
                    locked=properties.get(holder, "kdenlive:locked_track") == "1",
                    hidden=not sound and off,
                    muted=sound and off,
                    switches=tuple(inner),
                    off="both",
                    marked=properties.get(holder, ROLE) or "",
                )
            )
        return _named(found)

    def bin_clips(self, parts: Parts) -> Iterator[tuple[Element, BinClip]]:
        """Clips of the bin with their folder's path, their tags and notes, their zone and their markers."""
        for part, _ in listed(parts, bin_of(parts.root)):
            markers = as_markers(read_list(properties.get(part, _CLIP_MARKERS), *_MARKER_FIELDS))
            yield part, bin_clip(parts, part, key=properties.get(part, _BIN_ID) or "", markers=markers)

    def read_markers(self, parts: Parts, timeline: Element) -> tuple[StoredMarker | Kept, ...] | None:
        """Those of the sequence, or of a document without sequences, with their category's name."""
        listing = bin_of(parts.root)
        text = properties.get(listing, DOCUMENT + "guidesCategories") if listing is not None else None
        categories = {
            item["index"]: str(item.get("comment", ""))
            for item in json_list(text) or ()
            if isinstance(item, dict) and isinstance(item.get("index"), int)
        }
        return read_list(lists_of(parts.root, timeline).text(_MARKERS), *_MARKER_FIELDS, categories)

    def read_groups(self, parts: Parts, timeline: Element) -> tuple[Grouped, ...] | None:
        """JSON; picture and sound of one clip are a group of a kind of its own."""
        return read_json_groups(lists_of(parts.root, timeline).text(_GROUPS))

    def subtitle_files(self, parts: Parts, timeline: Element) -> list[str]:
        """Names of the subtitle files beside the document."""
        return [
            str(item["file"])
            for item in json_list(lists_of(parts.root, timeline).text(_SUBTITLES)) or ()
            if isinstance(item, dict) and item.get("file")
        ]

    # --- writing ---

    def make_strip(self, parts: Parts, timeline: Element, role: str, over: int | None = None) -> None:
        """Two playlists, their tractor, its track, and the automatic mix or blend.

        A picture track goes on top, or right above the one it belongs to. A sound track goes right above
        the black track. Every number that counts the tracks above it moves up by one.
        """
        name, sound = OUR_TRACKS[role].name, OUR_TRACKS[role].kind is TrackKind.SOUND
        tractor = etree.Element("tractor", id=parts.fresh_id("tractor"))
        tractor.set("in", parts.write(0))
        values = {"kdenlive:trackheight": "67", "kdenlive:timeline_active": "1", "kdenlive:collapsed": "0"}
        if sound:
            values = {_AUDIO_TRACK: "1", **values}
        for key, value in {**values, _TRACK_NAME: name, ROLE: role}.items():
            properties.put(tractor, key, value)
        for _ in range(2):
            playlist = etree.Element("playlist", id=parts.fresh_id("playlist"))
            if sound:
                properties.put(playlist, _AUDIO_TRACK, "1")
            etree.indent(playlist, " ", level=1)
            parts.add(playlist, before=timeline)
            etree.SubElement(
                tractor, "track", hide="video" if sound else "audio", producer=playlist.get("id", "")
            )
        etree.indent(tractor, " ", level=1)
        parts.add(tractor, before=timeline)
        mark = etree.Element("track", producer=tractor.get("id", ""))
        index = place_mark(self, parts, timeline, mark, role, over=over)
        self.count_track(parts, timeline, index, 1)
        if sound:
            values = {"kdenlive_id": "mix", "accepts_blanks": "1", **_ADDED_BY_HOST}
            add_mix(parts, timeline, index, values)
        else:
            values = {"kdenlive_id": "qtblend", "compositing": "0", "distort": "0", **_ADDED_BY_HOST}
            add_blend(parts, timeline, index, values)

    def count_track(self, parts: Parts, timeline: Element, index: int, by: int) -> None:
        """Stored numbers count from 0 above the black track."""
        lists = lists_of(parts.root, timeline)
        for name in _TRACK_NUMBERS:
            lists.change_number(name, lambda number: max(0, number + by * (number + 1 >= index)))
        for name in ("tracksCount", "tracks"):
            lists.change_number(name, lambda number: number + by)

    def new_entry(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> Element:
        """One copy of a file per track, playing its half; images, titles and colours are shared.

        Every clip names its bin clip.
        """
        identity, copy = properties.get(part, _BIN_ID), part
        if source_of(parts, part).kind is SourceKind.FILE:
            copy = next(
                (
                    one
                    for one in parts.ours(strip.role)
                    if properties.get(one, _BIN_ID) == identity and plays(one) == (picture, sound)
                ),
                part,
            )
            if copy is part:
                copy = sibling_copy(parts, part, part.tag, strip.role, user=strip)
                properties.put(copy, "set.test_audio", "0" if sound else "1")
                properties.put(copy, "set.test_image", "0" if picture else "1")
        elif stands_after(part, strip):
            copy = sibling_copy(parts, part, part.tag, strip.role, user=strip)
        entry = entry_of(copy)
        if identity:
            properties.put(entry, _BIN_ID, identity)
            etree.indent(entry, " ", level=2)
        return entry

    def write_markers(
        self, parts: Parts, timeline: Element, markers: tuple[StoredMarker | Kept, ...]
    ) -> None:
        """JSON, new ones last."""
        items = written_list(markers, *_MARKER_FIELDS, _NEW_MARKER)
        lists_of(parts.root, timeline).put_items(_MARKERS, items)

    def mark_clip(self, parts: Parts, part: Element, at: int, text: str) -> bool:
        """JSON beside the clip's other values, new ones last; what cannot be read stays as it is."""
        markers = read_list(properties.get(part, _CLIP_MARKERS), *_MARKER_FIELDS)
        new = marked_once(markers, at, text)
        if new is None:
            return False
        items = written_list(new, *_MARKER_FIELDS, _NEW_MARKER)
        properties.put(part, _CLIP_MARKERS, json.dumps(items, ensure_ascii=False, indent=4) + "\n")
        return True

    def write_groups(self, parts: Parts, timeline: Element, groups: tuple[Grouped, ...]) -> None:
        """JSON; new leaves are written like those already there."""
        lists = lists_of(parts.root, timeline)
        text = lists.text(_GROUPS) or ""
        short = ':-1"' not in text if '"data"' in text else lists.prefix == DOCUMENT
        lists.put_items(_GROUPS, written_groups(groups, fields=2 if short else 3))

    def move_view(self, parts: Parts, timeline: Element, place: MovedFrame) -> None:
        """Playhead and zone are frames."""
        lists = lists_of(parts.root, timeline)
        for name in _POSITIONS:
            lists.change_number(name, place)

    def rename_subtitles(self, parts: Parts, timeline: Element, names: dict[str, str]) -> None:
        """The list names each file."""
        lists = lists_of(parts.root, timeline)
        items = json_list(lists.text(_SUBTITLES))
        if items is not None:
            lists.put_items(_SUBTITLES, [_renamed(item, names) for item in items])

    def set_length(self, parts: Parts, timeline: Element, old: int, new: int) -> None:
        """Sequence, black track, project tractor, the sequence's place in the bin, stored durations."""
        for strip in self.strips(parts, timeline):
            end = max((parts.length_of(playlist) for playlist in strip.playlists), default=0)
            if end and (strip.role or new != old):
                strip.holder.set("out", parts.write(end - 1))
        if new == old:
            return
        lengthen_by(parts, timeline, old, new)
        for mark in list(timeline.iter("track"))[:1]:
            if (black := parts.get(mark.get("producer"))) is not None:
                lengthen_by(parts, black, old, new)
                lengthen_background(parts, black, old, new)
        for element in parts.root.iter("entry", "track"):
            parent = element.getparent()
            if parent is None or element.get("producer") != timeline.get("id"):
                continue
            if properties.get(parent, _PROJECT) == "1":
                for part in (element, parent):
                    move_end(parts, part, new - old)
            elif parent.get("id") in BINS:
                lengthen(parts, element, old, new)
        for name in ("kdenlive:maxduration", "kdenlive:duration"):
            if text := properties.get(timeline, name):
                properties.put(timeline, name, _like(text, new, parts))


def lengthen_by(parts: Parts, part: Element, old: int, new: int) -> None:
    """Move an out that is not before the film's end with that: this host keeps some black after it."""
    out = part.get("out")
    if new > old or (out is not None and parts.frames(out) >= old - 1):
        move_end(parts, part, new - old)


def _like(text: str, frames: int, parts: Parts) -> str:
    """A duration in the spelling it had."""
    if text.count(":") == 3 or ";" in text:
        return format_timecode(frames, parts.rate, drop=";" in text)
    return parts.write(frames) if ":" in text else str(frames)


def _renamed(item: object, names: dict[str, str]) -> object:
    if not isinstance(item, dict):
        return item
    return {**item, "file": names.get(str(item.get("file")), item.get("file"))}


def _named(strips: list[Strip]) -> list[Strip]:
    """Tracks without a name get the one that the host shows: V1, V2 … upward, A1, A2 … downward."""
    pictures = [strip for strip in strips if strip.kind is TrackKind.PICTURE]
    sounds = [strip for strip in reversed(strips) if strip.kind is TrackKind.SOUND]
    shown = {s.index: f"V{number}" for number, s in enumerate(pictures, start=1)}
    shown |= {s.index: f"A{number}" for number, s in enumerate(sounds, start=1)}
    return [strip if strip.name else replace(strip, name=shown[strip.index]) for strip in strips]
