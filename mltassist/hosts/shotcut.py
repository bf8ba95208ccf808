"""Shotcut's documents: playlists as tracks, a private part for every clip, markers in the timeline."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import PurePath

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.frames import Span
from mltassist.hosts.base import (
    GUIDE_PREFIX,
    OUR_TRACKS,
    Host,
    Strip,
    neighbour,
    playlist_strip,
    sibling_copy,
)
from mltassist.hosts.levels import ROLE
from mltassist.hosts.parts import PRODUCERS, Parts, detach, insert_after_properties
from mltassist.hosts.plain import (
    BINS,
    BLENDS,
    add_mark,
    add_transition,
    lengthen_film,
    silence,
    words,
)
from mltassist.hosts.sources import source_of
from mltassist.timeline.model import BinClip, Guide, TrackKind

_MARKERS = "shotcut:markers"
_COLOUR = "#0072B2"  # Okabe and Ito's blue


class Shotcut(Host):
    """A tractor with the property `shotcut`."""

    name = "shotcut"

    def owns(self, root: Element) -> bool:
        """True when a tractor says so; a clip that is another project says it on a producer."""
        return _main(root) is not None or (root.get("title") or "").startswith("Shotcut version")

    def timeline(self, parts: Parts) -> Element | None:
        """The tractor with the property; dissolves are tractors too and come before it."""
        return _main(parts.root)

    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """Tracks by the property on their playlist; `hide` only says what is switched off."""
        found = []
        for index, mark in enumerate(timeline.iter("track")):
            holder = parts.get(mark.get("producer"))
            if holder is None or holder.tag != "playlist" or holder.get("id") == "background":
                continue
            sound = properties.get(holder, "shotcut:audio") == "1"
            name = properties.get(holder, "shotcut:name") or ""
            locked = properties.get(holder, "shotcut:lock") == "1"
            found.append(playlist_strip(index, mark, holder, sound=sound, name=name, locked=locked))
        return found

    def bin_parts(self, parts: Parts) -> Iterator[tuple[Element, Element | None]]:
        """Clips of the playlist main_bin, each with the range its entry marks."""
        listing = next((parts.get(name) for name in BINS if parts.get(name) is not None), None)
        for entry in listing.iterchildren("entry") if listing is not None else ():
            part = parts.get(entry.get("producer"))
            if part is not None and part.tag in PRODUCERS:
                yield part, entry

    def bin_clip(self, parts: Parts, part: Element, entry: Element | None) -> BinClip:
        """A clip of the bin: tags are the words of its comment, its range is the entry's."""
        source = source_of(parts, part)
        zones: tuple[Span, ...] = ()
        if entry is not None and entry.get("out"):
            marked = Span(parts.frames(entry.get("in")), parts.frames(entry.get("out")) + 1)
            zones = (marked,) if source.length and marked != Span(0, source.length) else ()
        comment = properties.get(part, "shotcut:comment") or ""
        return BinClip(
            key=source.key,
            name=self.caption(part, properties.all_of(part)) or PurePath(source.key).stem,
            source=source,
            tags=words(comment.partition("\n")[0]),
            notes=comment.partition("\n")[2],
            zones=zones,
        )

    def caption(self, part: Element, values: Mapping[str, str]) -> str:
        """The clip's caption."""
        return values.get("shotcut:caption") or ""

    def guides(self, parts: Parts, timeline: Element) -> tuple[Guide, ...]:
        """The markers of the timeline."""
        return tuple(
            Guide(
                parts.frames(properties.get(item, "start")),
                properties.get(item, "text") or "",
                (properties.get(item, "text") or "").startswith(GUIDE_PREFIX),
            )
            for item in _markers(timeline)
        )

    def linked(self, parts: Parts, timeline: Element) -> tuple[tuple[tuple[int, int], ...], ...]:
        """One clip carries picture and sound together; nothing is linked."""
        return ()

    def make_strip(self, parts: Parts, timeline: Element, role: str) -> None:
        """A playlist of ours, the last track but for one that belongs to another, with its mix and blend."""
        kind, name = OUR_TRACKS[role].kind, OUR_TRACKS[role].name
        playlist = etree.Element("playlist", id=parts.fresh_id("playlist"))
        properties.put(playlist, "shotcut:audio" if kind is TrackKind.SOUND else "shotcut:video", "1")
        properties.put(playlist, "shotcut:name", name)
        properties.put(playlist, ROLE, role)
        etree.indent(playlist, "  ", level=1)
        parts.add(playlist, before=timeline)
        mark = etree.Element("track", producer=playlist.get("id", ""))
        if kind is TrackKind.SOUND:
            mark.set("hide", "video")
        strips = self.strips(parts, timeline)
        lowest = min((s.index for s in strips if s.kind is TrackKind.PICTURE), default=0)
        index = add_mark(timeline, mark, neighbour(strips, role))
        add_transition(parts, timeline, index, ("mix",), {"mlt_service": "mix", "sum": "1"})
        if kind is TrackKind.PICTURE:
            blend = {"a_track": str(lowest), "mlt_service": "qtblend", "threads": "0", "disable": "0"}
            add_transition(parts, timeline, index, BLENDS, blend)

    def clip_part(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> str:
        """A private copy for this one clip, its unwanted stream switched off."""
        copy = sibling_copy(parts, part, part.tag, strip.role)
        silence(copy, picture=picture, sound=sound)
        return copy.get("id", "")

    def split_part(self, parts: Parts, entry: Element) -> str:
        """The second half gets a part of its own, for every clip has one."""
        part = parts.get(entry.get("producer"))
        if part is None or part.tag not in PRODUCERS:
            return entry.get("producer", "")
        return sibling_copy(parts, part, part.tag).get("id", "")

    def filter_home(self, parts: Parts, entry: Element) -> Element:
        """The clip's own part."""
        part = parts.get(entry.get("producer"))
        return entry if part is None else part

    def level_properties(self) -> dict[str, str]:
        """A gain filter with keyframes."""
        return {"window": "75", "max_gain": "20dB", "channel_mask": "-1", "mlt_service": "volume"}

    def add_guide(self, parts: Parts, timeline: Element, at: int, text: str) -> None:
        """A marker without length, after the others."""
        holder = _marker_list(timeline)
        if holder is None:
            holder = etree.Element("properties", name=_MARKERS)
            insert_after_properties(timeline, holder)
        numbers = [int(name) for item in holder if (name := item.get("name", "")).isdigit()]
        item = etree.SubElement(holder, "properties", name=str(max(numbers, default=-1) + 1))
        for name, value in (("text", text), ("start", at), ("end", at), ("color", _COLOUR)):
            properties.put(item, name, parts.write(value) if isinstance(value, int) else value)
        etree.indent(holder, "  ", level=2)

    def drop_our_guides(self, parts: Parts, timeline: Element) -> None:
        """Markers of ours go; the others are numbered on without a hole."""
        items = _markers(timeline)
        doomed = [i for i in items if (properties.get(i, "text") or "").startswith(GUIDE_PREFIX)]
        for item in doomed:
            detach(item)
        for number, item in enumerate(_markers(timeline) if doomed else ()):
            item.set("name", str(number))

    def move_guides(self, parts: Parts, timeline: Element, at: int, by: int) -> None:
        """Both ends move; a marker that lies across the place becomes longer."""
        for item in _markers(timeline):
            for name in ("start", "end"):
                frame = parts.frames(properties.get(item, name), missing=-1)
                if frame >= at:
                    properties.put(item, name, parts.write(frame + by))

    def record(self, parts: Parts, timeline: Element) -> str | None:
        """A property of the timeline; the host keeps only those that begin with its own name."""
        return properties.get(timeline, "shotcut:mltassist")

    def put_record(self, parts: Parts, timeline: Element, text: str) -> None:
        """See `record`."""
        properties.put(timeline, "shotcut:mltassist", text)

    def set_length(self, parts: Parts, timeline: Element, old: int, new: int) -> None:
        """The timeline's out, and the background that is as long as the film."""
        lengthen_film(parts, timeline, old, new)


def _main(root: Element) -> Element | None:
    return next(
        (part for part in root.iterchildren("tractor") if properties.get(part, "shotcut") == "1"), None
    )


def _marker_list(timeline: Element) -> Element | None:
    return next((c for c in timeline.iterchildren("properties") if c.get("name") == _MARKERS), None)


def _markers(timeline: Element) -> list[Element]:
    holder = _marker_list(timeline)
    return [] if holder is None else list(holder.iterchildren("properties"))
