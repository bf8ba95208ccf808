"""Kdenlive's documents since tracks became tractors (0.99), with and without sequences (1.1).

Every track is a tractor of two playlists, so that its clips can overlap and dissolve; every clip on the
timeline is a copy of its bin clip, one for each track and half; guides and groups are JSON. What this
module does not know stays as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.frames import format_timecode
from mltassist.hosts import kdenlive_groups as groups
from mltassist.hosts.base import GUIDE_PREFIX, OUR_TRACKS, Mover, Strip, sibling_copy
from mltassist.hosts.kdenlive_shared import (
    KdenliveShared,
    bin_clip,
    main_tractor,
    place_mark,
    sequences_named,
    sequences_of,
)
from mltassist.hosts.kdenlive_store import (
    DOCUMENT,
    POSITIONS,
    TRACK_NUMBERS,
    Store,
    bin_of,
    json_list,
    store_of,
)
from mltassist.hosts.levels import ROLE
from mltassist.hosts.parts import Parts
from mltassist.hosts.plain import BINS, BLENDS, add_transition, lengthen, lengthen_background
from mltassist.hosts.ripple import renumber_transitions
from mltassist.hosts.sources import plays, source_of
from mltassist.timeline.model import BinClip, Guide, SourceKind, TrackKind

_OUR_GUIDES = 0
"""Type (category) of the guides we add: the host's first, which every document has."""


class Kdenlive(KdenliveShared):
    """A bin playlist with the property `kdenlive:docproperties.version`, and tracks that are tractors."""

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
        tractors = [
            part
            for part in parts.root.iterchildren("tractor")
            if properties.get(part, "kdenlive:projectTractor") != "1"
        ]
        return tractors[-1] if tractors else None

    def sequences(self, parts: Parts) -> tuple[str, ...]:
        """Names of the sequences in the document."""
        return tuple(sequences_named(parts.root))

    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """Track tractors after the black track; the first inner track says what is hidden or muted."""
        found = []
        for index, mark in enumerate(timeline.iter("track")):
            holder = parts.get(mark.get("producer"))
            if index == 0 or holder is None or holder.tag != "tractor":
                continue
            inner = list(holder.iter("track"))
            layers = tuple(p for m in inner if (p := parts.get(m.get("producer"))) is not None)
            sound = properties.get(holder, "kdenlive:audio_track") == "1"
            off = bool(inner) and inner[0].get("hide") == "both"
            found.append(
                Strip(
                    index=index,
                    mark=mark,
                    holder=holder,
                    playlists=layers,
                    kind=TrackKind.SOUND if sound else TrackKind.PICTURE,
                    name=properties.get(holder, "kdenlive:track_name") or "",
                    has_sound=sound and not off,
                    locked=properties.get(holder, "kdenlive:locked_track") == "1",
                    hidden=not sound and off,
                    muted=sound and off,
                )
            )
        return _named(found)

    def bin_clip(self, parts: Parts, part: Element, entry: Element | None) -> BinClip:
        """A clip of the bin with its folder's path, its tags and notes, its zone and its markers."""
        markers = json_list(properties.get(part, "kdenlive:markers"))
        return bin_clip(
            parts,
            part,
            key=properties.get(part, "kdenlive:id") or "",
            markers=tuple(
                Guide(int(m["pos"]), str(m.get("comment", ""))) for m in markers if _whole(m.get("pos"))
            ),
        )

    def guides(self, parts: Parts, timeline: Element) -> tuple[Guide, ...]:
        """Guides of the sequence, or of a document without sequences, with their category's name."""
        listing = bin_of(parts.root)
        categories = {
            item.get("index"): str(item.get("comment", ""))
            for item in json_list(
                properties.get(listing, DOCUMENT + "guidesCategories") if listing is not None else None
            )
        }
        return tuple(
            Guide(
                int(item["pos"]),
                text := str(item.get("comment", "")),
                text.startswith(GUIDE_PREFIX),
                categories.get(item.get("type"), ""),
            )
            for item in self._store(parts, timeline).items("guides")
            if _whole(item.get("pos"))
        )

    def linked(self, parts: Parts, timeline: Element) -> tuple[tuple[tuple[int, int], ...], ...]:
        """Every pair of picture and sound."""
        return groups.pairs(self._store(parts, timeline).items("groups"))

    def grouped(self, parts: Parts, timeline: Element) -> tuple[tuple[int, int], ...]:
        """Every clip that some group names."""
        return groups.places(self._store(parts, timeline).items("groups"))

    def subtitle_files(self, parts: Parts, timeline: Element) -> list[str]:
        """Names of the subtitle files beside the document."""
        return [
            str(item["file"])
            for item in self._store(parts, timeline).items("subtitlesList")
            if item.get("file")
        ]

    @staticmethod
    def _store(parts: Parts, timeline: Element) -> Store:
        return store_of(parts.root, timeline)

    # --- writing ---

    def make_strip(self, parts: Parts, timeline: Element, role: str) -> None:
        """Two playlists, their tractor, its track, and the automatic mix or blend.

        A picture track goes on top, or right above the one it belongs to. A sound track goes right above
        the black track. Every number that counts the tracks above it moves up by one.
        """
        name, sound = OUR_TRACKS[role].name, OUR_TRACKS[role].kind is TrackKind.SOUND
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
        index = place_mark(timeline, mark, self.strips(parts, timeline), role)
        self._renumber(parts, timeline, index)
        if sound:
            mix = {"mlt_service": "mix", "kdenlive_id": "mix", "sum": "1", "accepts_blanks": "1"}
            add_transition(parts, timeline, index, ("mix",), {**mix, "internal_added": "237"})
        else:
            blend = {"mlt_service": "qtblend", "kdenlive_id": "qtblend", "compositing": "0", "distort": "0"}
            add_transition(parts, timeline, index, BLENDS, {**blend, "internal_added": "237"})

    def switch_off(self, strip: Strip) -> None:
        """Both inner tracks say it; the first one counts."""
        for inner in strip.holder.iter("track"):
            inner.set("hide", "both")

    def _renumber(self, parts: Parts, timeline: Element, index: int) -> None:
        """A track has come in at `index`: stored numbers count from 0 above the black track."""
        renumber_transitions(timeline, since=index)
        store = self._store(parts, timeline)
        self._change_groups(store, lambda track, start: (track + (track >= index), start))
        for name in TRACK_NUMBERS:
            store.change_number(name, lambda number: number + (number + 1 >= index))
        for name in ("tracksCount", "tracks"):
            store.change_number(name, lambda number: number + 1)

    @staticmethod
    def _change_groups(store: Store, change: Mover) -> None:
        before = store.items("groups")
        after = groups.changed(before, change)
        if after != before:
            store.put_items("groups", after)

    def clip_part(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> str:
        """One copy of a file per track, playing its half; images, titles and colours are shared."""
        if source_of(parts, part).kind is not SourceKind.FILE:
            return part.get("id", "")
        identity = properties.get(part, "kdenlive:id")
        for candidate in parts.ours(strip.role):
            if properties.get(candidate, "kdenlive:id") == identity and plays(candidate) == (picture, sound):
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

    def level_properties(self) -> dict[str, str]:
        """The volume effect with keyframes."""
        return {
            "window": "75",
            "max_gain": "20dB",
            "mlt_service": "volume",
            "kdenlive_id": "volume",
            "kdenlive:collapsed": "0",
        }

    def add_guide(self, parts: Parts, timeline: Element, at: int, text: str) -> None:
        """One more guide in the list."""
        self.add_guides(parts, timeline, [(at, text)])

    def add_guides(self, parts: Parts, timeline: Element, guides: Sequence[tuple[int, str]]) -> None:
        """The list is written once."""
        store = self._store(parts, timeline)
        new = [{"comment": text, "pos": at, "type": _OUR_GUIDES} for at, text in guides]
        store.put_items("guides", [*store.items("guides"), *new])

    def drop_our_guides(self, parts: Parts, timeline: Element) -> None:
        """Those of ours leave the list."""
        store = self._store(parts, timeline)
        items = store.items("guides")
        kept = [item for item in items if not str(item.get("comment", "")).startswith(GUIDE_PREFIX)]
        if len(kept) < len(items):
            store.put_items("guides", kept)

    def move_guides(self, parts: Parts, timeline: Element, at: int, by: int) -> None:
        """Guides, and with them the playhead and the zone of the timeline."""
        store = self._store(parts, timeline)
        items = store.items("guides")
        moved = [
            {**i, "pos": int(i["pos"]) + by} if _whole(i.get("pos")) and int(i["pos"]) >= at else i
            for i in items
        ]
        if moved != items:
            store.put_items("guides", moved)
        for name in POSITIONS:
            store.change_number(name, lambda frame: frame + by if frame >= at else frame)

    def link(self, parts: Parts, timeline: Element, clips: tuple[tuple[int, int], ...]) -> None:
        """A pair in the groups, its leaves written like those already there."""
        store = self._store(parts, timeline)
        text = store.text("groups") or ""
        fields = 2 if '"data"' in text and ':-1"' not in text else 3
        if '"data"' not in text and store.prefix == DOCUMENT:
            fields = 2
        store.put_items("groups", [*store.items("groups"), groups.pair(clips, fields=fields)])

    def move_links(self, parts: Parts, timeline: Element, change: Mover) -> None:
        """Leaves name their clip by its start."""
        self._change_groups(self._store(parts, timeline), change)

    def drop_links(self, parts: Parts, timeline: Element, track: int) -> None:
        """Its leaves go, and with them the groups that would hold one clip or none."""
        store = self._store(parts, timeline)
        items = store.items("groups")
        kept = groups.without_track(items, track)
        if kept != items:
            store.put_items("groups", kept)

    def rename_subtitles(self, parts: Parts, timeline: Element, names: dict[str, str]) -> None:
        """The list names each file."""
        store = self._store(parts, timeline)
        items = store.items("subtitlesList")
        store.put_items(
            "subtitlesList", [{**i, "file": names.get(str(i.get("file")), i.get("file"))} for i in items]
        )

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


def _whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _named(strips: list[Strip]) -> list[Strip]:
    """Tracks without a name get the one that the host shows: V1, V2 … upward, A1, A2 … downward."""
    pictures = [strip for strip in strips if strip.kind is TrackKind.PICTURE]
    sounds = [strip for strip in reversed(strips) if strip.kind is TrackKind.SOUND]
    shown = {s.index: f"V{number}" for number, s in enumerate(pictures, start=1)}
    shown |= {s.index: f"A{number}" for number, s in enumerate(sounds, start=1)}
    return [strip if strip.name else replace(strip, name=shown[strip.index]) for strip in strips]
