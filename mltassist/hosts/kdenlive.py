"""Kdenlive's documents: tracks as tractors of two playlists, clips copied per track, JSON for the rest.

This module serves the layout with sequences (document version 1.1). What it does not know stays.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import PurePath
from typing import Any

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.frames import Span, format_timecode
from mltassist.hosts.base import GUIDE_PREFIX, OUR_TRACKS, Host, Strip, sibling_copy
from mltassist.hosts.levels import ROLE
from mltassist.hosts.parts import PRODUCERS, Parts, insert_before
from mltassist.hosts.plain import (
    BINS,
    BLENDS,
    add_mark,
    add_transition,
    lengthen,
    lengthen_background,
    words,
)
from mltassist.hosts.ripple import renumber_transitions
from mltassist.hosts.sources import plays, source_of
from mltassist.timeline.model import BinClip, Guide, SourceKind, TrackKind

_SEQUENCE = "kdenlive:sequenceproperties."
_DOCUMENT = "kdenlive:docproperties."
_TRACK_NUMBERS = ("activeTrack", "audioTarget", "videoTarget")
_GUIDE_TYPE = 0


class Kdenlive(Host):
    """A bin playlist with the property `kdenlive:docproperties.version`."""

    name = "kdenlive"

    def owns(self, root: Element) -> bool:
        """True when the bin carries the document's properties."""
        return _bin(root) is not None

    def timeline(self, parts: Parts) -> Element | None:
        """The open sequence: the one named active, else the document's own, else the last."""
        sequences = {
            uuid: part
            for part in parts.root.iterchildren("tractor")
            if (uuid := properties.get(part, "kdenlive:uuid"))
        }
        listing = _bin(parts.root)
        for name in ("activetimeline", "uuid"):
            wanted = properties.get(listing, _DOCUMENT + name) if listing is not None else None
            if wanted in sequences:
                return sequences[wanted]
        return list(sequences.values())[-1] if sequences else None

    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """Track tractors after the black track; what is hidden or muted stands on their inner tracks."""
        found = []
        for index, mark in enumerate(timeline.iter("track")):
            holder = parts.get(mark.get("producer"))
            if index == 0 or holder is None or holder.tag != "tractor":
                continue
            inner = list(holder.iter("track"))
            layers = tuple(p for m in inner if (p := parts.get(m.get("producer"))) is not None)
            sound = properties.get(holder, "kdenlive:audio_track") == "1"
            hide = inner[0].get("hide", "") if inner else ""
            found.append(
                Strip(
                    index=index,
                    mark=mark,
                    holder=holder,
                    playlists=layers,
                    kind=TrackKind.SOUND if sound else TrackKind.PICTURE,
                    name=properties.get(holder, "kdenlive:track_name") or "",
                    has_sound=sound and hide != "both",
                    locked=properties.get(holder, "kdenlive:locked_track") == "1",
                    hidden=not sound and hide == "both",
                    muted=sound and hide == "both",
                )
            )
        return found

    def bin_parts(self, parts: Parts) -> Iterator[tuple[Element, Element | None]]:
        """Clips of main_bin that are files, pictures, titles or colours; sequences are not shots."""
        listing = _bin(parts.root)
        for entry in listing.iterchildren("entry") if listing is not None else ():
            part = parts.get(entry.get("producer"))
            if part is not None and part.tag in PRODUCERS:
                yield part, entry

    def bin_clip(self, parts: Parts, part: Element, entry: Element | None) -> BinClip:
        """A clip of the bin with its folder's path, its tags and notes, and its zone."""
        source = source_of(parts, part)
        zones: tuple[Span, ...] = ()
        if out := properties.get(part, "kdenlive:zone_out"):
            zone = Span(parts.frames(properties.get(part, "kdenlive:zone_in")), parts.frames(out) + 1)
            zones = (zone,) if 0 < zone.length < source.length else ()
        return BinClip(
            key=properties.get(part, "kdenlive:id") or source.key,
            name=self.caption(part) or PurePath(source.key).stem,
            source=source,
            folder=_folder(parts.root, properties.get(part, "kdenlive:folderid") or "-1"),
            # The host may store a tag as its colour alone, which says nothing.
            tags=tuple(t for t in words(properties.get(part, "kdenlive:tags")) if not t.startswith("#")),
            notes=properties.get(part, "kdenlive:description") or "",
            zones=zones,
        )

    def caption(self, part: Element) -> str:
        """The name in the bin, which copies carry too."""
        return properties.get(part, "kdenlive:clipname") or ""

    def guides(self, parts: Parts, timeline: Element) -> tuple[Guide, ...]:
        """Guides of the sequence."""
        return tuple(
            Guide(int(item["pos"]), text := str(item.get("comment", "")), text.startswith(GUIDE_PREFIX))
            for item in _json_list(timeline, _SEQUENCE + "guides")
            if "pos" in item
        )

    def linked(self, parts: Parts, timeline: Element) -> tuple[tuple[tuple[int, int], ...], ...]:
        """Every pair of picture and sound, groups within groups included."""
        found: list[tuple[tuple[int, int], ...]] = []

        def visit(group: dict[str, Any]) -> None:
            children = [child for child in group.get("children", ()) if isinstance(child, dict)]
            leaves = tuple(place for child in children if (place := _place(child)) is not None)
            if group.get("type") == "AVSplit" and len(leaves) == 2:
                found.append(leaves)
            for child in children:
                visit(child)

        for group in _json_list(timeline, _SEQUENCE + "groups"):
            visit(group)
        return tuple(found)

    def make_strip(self, parts: Parts, timeline: Element, role: str) -> None:
        """Two playlists, their tractor, its track, and the automatic mix or blend.

        A picture track goes on top. A sound track goes right above the black track, and every number
        that counts tracks moves up by one.
        """
        kind, name = OUR_TRACKS[role]
        sound = kind is TrackKind.SOUND
        tractor = etree.Element("tractor", id=parts.fresh_id("tractor"))
        tractor.set("in", parts.write(0))
        values = {"kdenlive:trackheight": "67", "kdenlive:timeline_active": "1", "kdenlive:collapsed": "0"}
        if sound:
            values = {"kdenlive:audio_track": "1", **values}
        for key, value in {**values, "kdenlive:track_name": name, ROLE: role}.items():
            properties.put(tractor, key, value)
        for _ in range(2):
            playlist = etree.Element("playlist", id=parts.fresh_id("playlist"))
            if sound:
                properties.put(playlist, "kdenlive:audio_track", "1")
            etree.indent(playlist, " ", level=1)
            parts.add(playlist, before=timeline)
            etree.SubElement(
                tractor, "track", hide="video" if sound else "audio", producer=playlist.get("id", "")
            )
        etree.indent(tractor, " ", level=1)
        parts.add(tractor, before=timeline)
        mark = etree.Element("track", producer=tractor.get("id", ""))
        marks = list(timeline.iter("track"))
        if sound and len(marks) > 1:
            insert_before(marks[1], mark)
            index = 1
            renumber_transitions(timeline, since=1)
            self._renumber(timeline)
        else:
            add_mark(timeline, mark)
            index = len(marks)
        if sound:
            mix = {"mlt_service": "mix", "kdenlive_id": "mix", "sum": "1", "accepts_blanks": "1"}
            add_transition(parts, timeline, index, ("mix",), {**mix, "internal_added": "237"})
        else:
            blend = {"mlt_service": "qtblend", "kdenlive_id": "qtblend", "compositing": "0", "distort": "0"}
            add_transition(parts, timeline, index, BLENDS, {**blend, "internal_added": "237"})
        for key in ("tracksCount", "tracks"):
            if (text := properties.get(timeline, _SEQUENCE + key)) is not None and text.isdigit():
                properties.put(timeline, _SEQUENCE + key, str(int(text) + 1))

    def _renumber(self, timeline: Element) -> None:
        """Groups and stored track numbers count from 0 above the black track: all move up by one."""
        _change_leaves(timeline, lambda track, start: (track + 1, start))
        for name in _TRACK_NUMBERS:
            text = properties.get(timeline, _SEQUENCE + name) or ""
            if text.isdigit():
                properties.put(timeline, _SEQUENCE + name, str(int(text) + 1))

    def clip_part(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> str:
        """One copy of a file per track, playing its half; images, titles and colours are shared."""
        if source_of(parts, part).kind is not SourceKind.FILE:
            return part.get("id", "")
        identity = properties.get(part, "kdenlive:id")
        for candidate in parts.by_id.values():
            same = candidate.tag in PRODUCERS and properties.get(candidate, "kdenlive:id") == identity
            if (
                same
                and properties.get(candidate, ROLE) == strip.role
                and plays(candidate) == (picture, sound)
            ):
                return candidate.get("id", "")
        copy = sibling_copy(parts, part, part.tag, strip.role)
        properties.put(copy, "set.test_audio", "0" if sound else "1")
        properties.put(copy, "set.test_image", "0" if picture else "1")
        return copy.get("id", "")

    def dress_entry(self, entry: Element, part: Element) -> None:
        """Every clip names its bin clip."""
        if identity := properties.get(part, "kdenlive:id"):
            properties.put(entry, "kdenlive:id", identity)
            etree.indent(entry, " ", level=2)

    def filter_home(self, parts: Parts, entry: Element) -> Element:
        """The entry."""
        return entry

    def level_properties(self) -> dict[str, str]:
        """The volume effect with keyframes."""
        return {
            "window": "75",
            "max_gain": "20dB",
            "mlt_service": "volume",
            "kdenlive_id": "volume",
            "kdenlive:collapsed": "0",
        }

    def filter_keys_from_source(self) -> bool:
        """Clip effects have no range; their keys are source frames."""
        return True

    def add_guide(self, parts: Parts, timeline: Element, at: int, text: str) -> None:
        """One more guide in the sequence's list."""
        items = _json_list(timeline, _SEQUENCE + "guides")
        _put_json(timeline, _SEQUENCE + "guides", [*items, {"comment": text, "pos": at, "type": _GUIDE_TYPE}])

    def drop_our_guides(self, parts: Parts, timeline: Element) -> None:
        """Those of ours leave the list."""
        items = _json_list(timeline, _SEQUENCE + "guides")
        kept = [item for item in items if not str(item.get("comment", "")).startswith(GUIDE_PREFIX)]
        if len(kept) < len(items):
            _put_json(timeline, _SEQUENCE + "guides", kept)

    def move_guides(self, parts: Parts, timeline: Element, at: int, by: int) -> None:
        """Their position is all that changes."""
        items = _json_list(timeline, _SEQUENCE + "guides")
        moved = [{**i, "pos": i["pos"] + by} if int(i.get("pos", -1)) >= at else i for i in items]
        if moved != items:
            _put_json(timeline, _SEQUENCE + "guides", moved)

    def link(self, parts: Parts, timeline: Element, clips: tuple[tuple[int, int], ...]) -> None:
        """A pair in the sequence's groups, its leaves written like those already there."""
        text = properties.get(timeline, _SEQUENCE + "groups") or "[]"
        short = '"data"' in text and ":-1" not in text
        leaves = [
            {"data": f"{track - 1}:{start}" + ("" if short else ":-1"), "leaf": "clip", "type": "Leaf"}
            for track, start in clips
        ]
        groups = _json_list(timeline, _SEQUENCE + "groups")
        _put_json(timeline, _SEQUENCE + "groups", [*groups, {"children": leaves, "type": "AVSplit"}])

    def move_links(self, parts: Parts, timeline: Element, at: int, by: int) -> None:
        """Leaves name their clip by its start."""
        _change_leaves(timeline, lambda track, start: (track, start + by if start >= at else start))

    def drop_links(self, parts: Parts, timeline: Element, track: int) -> None:
        """Its leaves go, and with them the groups that would hold one clip or none."""
        groups = _json_list(timeline, _SEQUENCE + "groups")
        kept = [left for group in groups if (left := _without_track(group, track)) is not None]
        if kept != groups:
            _put_json(timeline, _SEQUENCE + "groups", kept)

    def set_length(self, parts: Parts, timeline: Element, old: int, new: int) -> None:
        """Sequence, black track, project tractor, the sequence's place in the bin, stored durations."""
        for strip in self.strips(parts, timeline):
            end = max((parts.length_of(playlist) for playlist in strip.playlists), default=0)
            if end and (strip.role or new != old):
                strip.holder.set("out", parts.write(end - 1))
        if new == old:
            return
        identity = timeline.get("id")
        lengthen_by(parts, timeline, new - old)
        for mark in list(timeline.iter("track"))[:1]:
            black = parts.get(mark.get("producer"))
            if black is not None:
                lengthen_by(parts, black, new - old)
                lengthen_background(parts, black, old, new)
        for element in parts.root.iter("entry", "track"):
            if element.get("producer") != identity:
                continue
            parent = element.getparent()
            if parent is None:
                continue
            if properties.get(parent, "kdenlive:projectTractor") == "1":
                lengthen(parts, element, old, new)
                lengthen(parts, parent, old, new)
            elif parent.get("id") in BINS:
                lengthen(parts, element, old, new)
        if properties.get(timeline, "kdenlive:maxduration") is not None:
            properties.put(timeline, "kdenlive:maxduration", str(new))
        if text := properties.get(timeline, "kdenlive:duration"):
            properties.put(timeline, "kdenlive:duration", _like(text, new, parts))


def lengthen_by(parts: Parts, part: Element, by: int) -> None:
    """Move an out by as much as the film grew: this host keeps some black after the end."""
    if by > 0 and (out := part.get("out")) is not None:
        part.set("out", parts.write(parts.frames(out) + by))


def _like(text: str, frames: int, parts: Parts) -> str:
    """A duration in the spelling it had."""
    if text.count(":") == 3 or ";" in text:
        return format_timecode(frames, parts.rate, drop=";" in text)
    return parts.write(frames) if ":" in text else str(frames)


def _bin(root: Element) -> Element | None:
    return next(
        (
            part
            for part in root.iterchildren("playlist")
            if part.get("id") in BINS and properties.get(part, _DOCUMENT + "version") is not None
        ),
        None,
    )


def _folder(root: Element, number: str) -> str:
    """Names of a folder and those above it, joined by "/"; "" at the top."""
    listing = _bin(root)
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


def _json_list(part: Element, name: str) -> list[dict[str, Any]]:
    try:
        items = json.loads(properties.get(part, name) or "[]")
    except ValueError:
        return []
    return [item for item in items if isinstance(item, dict)] if isinstance(items, list) else []


def _put_json(part: Element, name: str, items: list[dict[str, Any]]) -> None:
    properties.put(part, name, json.dumps(items, ensure_ascii=False, indent=4) + "\n")


def _place(leaf: dict[str, Any]) -> tuple[int, int] | None:
    """(track, start) of a leaf; the document counts tracks from 0 above the black one."""
    fields = str(leaf.get("data", "")).split(":")
    if leaf.get("type") != "Leaf" or len(fields) < 2:
        return None
    try:
        return int(fields[0]) + 1, int(fields[1])
    except ValueError:
        return None


def _without_track(group: dict[str, Any], track: int) -> dict[str, Any] | None:
    """A leaf or group without what lies on a track; None where no group is left."""
    if (place := _place(group)) is not None:
        return None if place[0] == track else group
    children = group.get("children") or []
    kept = [left for child in children if (left := _without_track(child, track)) is not None]
    if kept == children:
        return group
    return {**group, "children": kept} if len(kept) > 1 else None


def _change_leaves(timeline: Element, change: Callable[[int, int], tuple[int, int]]) -> None:
    groups = _json_list(timeline, _SEQUENCE + "groups")
    changed = False

    def visit(group: dict[str, Any]) -> None:
        nonlocal changed
        if (place := _place(group)) is not None:
            track, start = change(*place)
            if (track, start) != place:
                rest = str(group["data"]).split(":")[2:]
                group["data"] = ":".join([str(track - 1), str(start), *rest])
                changed = True
        for child in group.get("children", ()):
            if isinstance(child, dict):
                visit(child)

    for group in groups:
        visit(group)
    if changed:
        _put_json(timeline, _SEQUENCE + "groups", groups)
