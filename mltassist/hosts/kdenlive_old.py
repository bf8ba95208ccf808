"""Kdenlive's documents up to 0.96: tracks are plain playlists, and every track carries sound.

A clip names its bin clip by the id of the part it plays (`7`, `7_playlist3`, `7_video`); guides and
markers are properties whose names hold seconds; groups are XML.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.values import number, whole
from mltassist.frames import Rate
from mltassist.hosts.base import GUIDE_PREFIX, OUR_TRACKS, Mover, Strip, playlist_strip, sibling_copy
from mltassist.hosts.kdenlive_shared import KdenliveShared, bin_clip, main_tractor, place_mark
from mltassist.hosts.kdenlive_store import bin_of
from mltassist.hosts.levels import ROLE
from mltassist.hosts.parts import Parts
from mltassist.hosts.plain import BLENDS, add_transition, lengthen_film, silence
from mltassist.hosts.ripple import renumber_transitions
from mltassist.hosts.sources import source_of
from mltassist.timeline.model import BinClip, Guide, SourceKind, TrackKind

_GUIDE = "kdenlive:guide."
_MARKER = "kdenlive:marker."
_GROUPS = "kdenlive:clipgroups"


class KdenliveOld(KdenliveShared):
    """A bin playlist with the document's version, and a tractor called maintractor."""

    # --- reading ---

    def owns(self, root: Element) -> bool:
        """True when the old main tractor is there."""
        return bin_of(root) is not None and main_tractor(root) is not None

    def timeline(self, parts: Parts) -> Element | None:
        """The tractor of that name."""
        return main_tractor(parts.root)

    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """Playlists after the black track, in the order of the tracks; their ids say nothing."""
        found = []
        for index, mark in enumerate(timeline.iter("track")):
            holder = parts.get(mark.get("producer"))
            if index == 0 or holder is None or holder.tag != "playlist" or _is_preview(holder):
                continue
            sound = properties.get(holder, "kdenlive:audio_track") == "1"
            name = properties.get(holder, "kdenlive:track_name") or ""
            locked = properties.get(holder, "kdenlive:locked_track") == "1"
            found.append(playlist_strip(index, mark, holder, sound=sound, name=name, locked=locked))
        return found

    def bin_clip(self, parts: Parts, part: Element, entry: Element | None) -> BinClip:
        """A clip of the bin; its id is that of its part, its markers are properties of the bin."""
        identity = part.get("id", "")
        return bin_clip(parts, part, key=identity, markers=tuple(_markers(parts, identity)))

    def guides(self, parts: Parts, timeline: Element) -> tuple[Guide, ...]:
        """Guides, whose seconds stand in the names of properties."""
        return tuple(
            Guide(frame, text := item.text or "", text.startswith(GUIDE_PREFIX))
            for item, frame in _guides(parts)
        )

    def linked(self, parts: Parts, timeline: Element) -> tuple[tuple[tuple[int, int], ...], ...]:
        """Groups of two clips that start together on a sound and a picture track."""
        groups = _groups(parts)
        found = [tuple(_place(item) for item in group.iter("clipitem")) for group in _leaf_groups(groups)]
        return tuple(pair for pair in found if len(pair) == 2 and pair[0][1] == pair[1][1])

    def grouped(self, parts: Parts, timeline: Element) -> tuple[tuple[int, int], ...]:
        """Every clip that some group names."""
        groups = _groups(parts)
        return () if groups is None else tuple(_place(item) for item in groups.iter("clipitem"))

    # --- writing ---

    def make_strip(self, parts: Parts, timeline: Element, role: str) -> None:
        """A playlist, its track, and the automatic mix every track has; for pictures the blend too."""
        name, sound = OUR_TRACKS[role].name, OUR_TRACKS[role].kind is TrackKind.SOUND
        playlist = etree.Element("playlist", id=parts.fresh_id("playlist"))
        values = {"kdenlive:audio_track": "1"} if sound else {}
        for key, value in {**values, "kdenlive:track_name": name, ROLE: role}.items():
            properties.put(playlist, key, value)
        etree.indent(playlist, " ", level=1)
        parts.add(playlist, before=timeline)
        mark = etree.Element("track", producer=playlist.get("id", ""))
        if sound:
            mark.set("hide", "video")
        index = place_mark(timeline, mark, self.strips(parts, timeline), role)
        renumber_transitions(timeline, since=index)
        _change_groups(parts, lambda track, start: (track + (track >= index), start))
        mix = {"mlt_service": "mix", "sum": "1", "internal_added": "237"}
        add_transition(parts, timeline, index, ("mix",), mix)
        if not sound:
            blend = {"mlt_service": "qtblend", "compositing": "0", "distort": "0", "internal_added": "237"}
            add_transition(parts, timeline, index, BLENDS, blend)

    def clip_part(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> str:
        """A copy under the id the host would give it: the bin clip's picture, or its sound on one track."""
        if source_of(parts, part).kind is not SourceKind.FILE:
            return part.get("id", "")
        number = part.get("id", "")
        wanted = f"{number}_{strip.holder.get('id')}_audio" if sound else f"{number}_video"
        if parts.get(wanted) is None:
            copy = sibling_copy(parts, part, wanted, strip.role, identity=wanted)
            silence(copy, picture=picture, sound=sound)
        return wanted

    def level_properties(self) -> dict[str, str]:
        """The volume effect with keyframes."""
        return {
            "window": "75",
            "max_gain": "20dB",
            "mlt_service": "volume",
            "kdenlive_id": "volume",
            "tag": "volume",
            "kdenlive_ix": "1",
        }

    def add_guide(self, parts: Parts, timeline: Element, at: int, text: str) -> None:
        """A property of the bin; where another guide stands on the frame, the next free one."""
        listing = bin_of(parts.root)
        if listing is None:
            return
        taken = {frame for _, frame in _guides(parts)}
        while at in taken:
            at += 1
        comma = any("," in (item.get("name") or "") for item, _ in _guides(parts))
        properties.put(listing, _GUIDE + _seconds_text(at, parts.rate, comma=comma), text)

    def drop_our_guides(self, parts: Parts, timeline: Element) -> None:
        """Those of ours go."""
        for item, _ in _guides(parts):
            parent = item.getparent()
            if parent is not None and (item.text or "").startswith(GUIDE_PREFIX):
                parent.remove(item)

    def move_guides(self, parts: Parts, timeline: Element, at: int, by: int) -> None:
        """Their names hold their place."""
        for item, frame in _guides(parts):
            if frame >= at:
                comma = "," in item.get("name", "")
                item.set("name", _GUIDE + _seconds_text(frame + by, parts.rate, comma=comma))

    def link(self, parts: Parts, timeline: Element, clips: tuple[tuple[int, int], ...]) -> None:
        """One more group."""
        groups = _groups(parts)
        if groups is None:
            groups = etree.Element("groups")
        group = etree.SubElement(groups, "group")
        for track, start in clips:
            etree.SubElement(group, "clipitem", position=str(start), track=str(track))
        _put_groups(parts, groups)

    def move_links(self, parts: Parts, timeline: Element, change: Mover) -> None:
        """Items name their clip by its start."""
        _change_groups(parts, change)

    def drop_links(self, parts: Parts, timeline: Element, track: int) -> None:
        """Its items go, and with them the groups that would hold one clip or none."""
        groups = _groups(parts)
        if groups is None:
            return
        doomed = [item for item in groups.iter("clipitem") if _place(item)[0] == track]
        for item in doomed:
            group = item.getparent()
            if group is None:
                continue
            group.remove(item)
            outer = group.getparent()
            if outer is not None and len(group) < 2:
                outer.remove(group)
        if doomed:
            _put_groups(parts, groups)

    def set_length(self, parts: Parts, timeline: Element, old: int, new: int) -> None:
        """The timeline's out and the black track, both as long as the film."""
        lengthen_film(parts, timeline, old, new)


def _is_preview(holder: Element) -> bool:
    return "timeline_preview" in (holder.get("id"), properties.get(holder, "kdenlive:playlistid"))


def _frame_of(seconds: str, rate: Rate) -> int | None:
    found = number(seconds)
    return None if found is None else rate.frames(found)


def _seconds_text(frame: int, rate: Rate, *, comma: bool) -> str:
    """The shortest decimal of seconds that is read back as this frame."""
    seconds = rate.seconds(frame)
    for digits in range(10):
        text = f"{float(seconds):.{digits}f}"
        if _frame_of(text, rate) == frame and abs(Fraction(text) - seconds) < Fraction(1, 1000):
            break
    return text.replace(".", ",") if comma else text


def _guides(parts: Parts) -> list[tuple[Element, int]]:
    """Properties of the bin that are guides, with their frames."""
    listing = bin_of(parts.root)
    found = []
    for item in listing.iterchildren("property") if listing is not None else ():
        name = item.get("name") or ""
        if name.startswith(_GUIDE) and (frame := _frame_of(name[len(_GUIDE) :], parts.rate)) is not None:
            found.append((item, frame))
    return found


def _markers(parts: Parts, identity: str) -> Iterator[Guide]:
    """Markers of one bin clip: `<category>:<text>` under `kdenlive:marker.<id>:<seconds>`."""
    listing = bin_of(parts.root)
    start = f"{_MARKER}{identity}:"
    for name, value in properties.all_of(listing).items() if listing is not None else ():
        if name.startswith(start) and (frame := _frame_of(name[len(start) :], parts.rate)) is not None:
            category, _, text = value.partition(":")
            yield Guide(frame, text, category=category)


def _groups(parts: Parts) -> Element | None:
    listing = bin_of(parts.root)
    text = properties.get(listing, _GROUPS) if listing is not None else None
    if not text or not text.strip():
        return None
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
    try:
        return etree.fromstring(text.encode(), parser)
    except etree.XMLSyntaxError:
        return None


def _put_groups(parts: Parts, groups: Element) -> None:
    listing = bin_of(parts.root)
    if listing is not None:
        properties.put(listing, _GROUPS, etree.tostring(groups, encoding="unicode"))


def _place(item: Element) -> tuple[int, int]:
    track, position = (whole(re.sub(r"\D", "", item.get(name, ""))) or 0 for name in ("track", "position"))
    return track, position


def _leaf_groups(groups: Element | None) -> Iterator[Element]:
    """Groups that hold clips and no further groups."""
    for group in groups.iter("group") if groups is not None else ():
        if group.find("group") is None:
            yield group


def _change_groups(parts: Parts, change: Mover) -> None:
    groups = _groups(parts)
    if groups is None:
        return
    altered = False
    for item in groups.iter("clipitem"):
        before = _place(item)
        after = change(*before)
        if after != before:
            item.set("track", str(after[0]))
            item.set("position", str(after[1]))
            altered = True
    if altered:
        _put_groups(parts, groups)
