"""Plain MLT XML: playlists in a tractor, written by hand or by a program.

It has no bin, names, tags or markers of its own. Where the document carries them in properties of the
`mltassist:` namespace they are read; otherwise the producers that no track plays are the bin.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import PurePath
from typing import ClassVar

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.hosts.base import OUR_TRACKS, Host, Strip, entry_of, neighbour, sibling_copy
from mltassist.hosts.bins import bin_listing, listed, tags_in
from mltassist.hosts.blends import blends
from mltassist.hosts.listed import read_list, written_list
from mltassist.hosts.nesting import all_played, played_in
from mltassist.hosts.parts import PRODUCERS, Parts
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
from mltassist.timeline.model import BinClip, Source, SourceKind, TrackKind

_NAMES = PlaylistNames("mltassist:name", shown="audio", off="both")
_FOLDER, _TAGS, _NOTE = "mltassist:folder", "mltassist:tags", "mltassist:note"
_MARKERS = "mltassist:guides"


class Plain(Host):
    """MLT XML that no editor has put its mark on."""

    name = "mlt"
    caption = _NAMES.name
    record = "mltassist:record"
    volume: ClassVar[Mapping[str, str]] = {"mlt_service": "volume"}
    placing: ClassVar[Mapping[str, str]] = {"mlt_service": "affine", "transition.distort": "0"}
    rectangle = "transition.rect"

    # --- reading ---

    def owns(self, root: Element) -> bool:
        """Any document that has not been recognised before; this host is asked last."""
        return True

    def timeline(self, parts: Parts) -> Element | None:
        """The last tractor: the engine plays the last thing in the document."""
        return next((part for part in reversed(parts.root) if part.tag == "tractor"), None)

    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """Every track that is a playlist, except a background of plain colour at the bottom.

        A track that is not hidden carries what its clips hold: picture, sound, or both. It is heard whether
        a mix names it or not (measured on melt 7.12; tests/hosts/test_plain_both.py).
        """
        found = []
        for index, mark, holder in tracks_of(parts, timeline, "playlist"):
            if index or not _is_background(parts, holder):
                strip = playlist_strip(_NAMES, index, mark, holder)
                if strip.kind is TrackKind.PICTURE and _all_sources(
                    parts, holder, lambda source: not source.has_picture
                ):
                    strip = replace(strip, kind=TrackKind.SOUND)
                found.append(replace(strip, name=strip.name or holder.get("title") or ""))
        return found

    def bin_clips(self, parts: Parts) -> Iterator[tuple[Element, BinClip]]:
        """What the playlist called main_bin lists; without one, the producers that no entry names."""
        listing = bin_listing(parts)
        if listing is not None:
            found = [part for part, _ in listed(parts, listing)]
        else:
            named = all_played(parts.root)
            found = [p for p in parts.by_id.values() if p.tag in PRODUCERS and p.get("id") not in named]
        for part in found:
            yield part, _bin_clip(parts, part)

    def read_markers(self, parts: Parts, timeline: Element) -> tuple[StoredMarker | Kept, ...] | None:
        """A list in a property of ours."""
        return read_list(properties.get(timeline, _MARKERS), "at", "text")

    # --- writing ---

    def make_strip(self, parts: Parts, timeline: Element, role: str, over: int | None = None) -> None:
        """A playlist, its track on top or above the one it belongs to, and the mix or blend all have."""
        mark = new_playlist(_NAMES, parts, timeline, role)
        strips = self.strips(parts, timeline)
        index = add_mark(timeline, mark, neighbour(strips, role, over))
        if OUR_TRACKS[role].kind is TrackKind.SOUND:
            add_mix(parts, timeline, index)
        elif _is_laid_over(parts, timeline, strips, index):
            add_blend(parts, timeline, index, {"compositing": "0", "distort": "0"})

    def new_entry(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> Element:
        """One copy of each producer per track of ours, with the half that is not wanted switched off."""
        copy = next((one for one in parts.ours(strip.role) if _same_material(one, part)), None)
        if copy is None:
            copy = sibling_copy(parts, part, "producer", strip.role, user=strip)
            silence(copy, picture=picture, sound=sound)
        return entry_of(copy)

    def write_markers(
        self, parts: Parts, timeline: Element, markers: tuple[StoredMarker | Kept, ...]
    ) -> None:
        """The list, new ones last."""
        text = json.dumps(written_list(markers, "at", "text"), ensure_ascii=False)
        properties.put(timeline, _MARKERS, text)


def _bin_clip(parts: Parts, part: Element) -> BinClip:
    """A clip of the bin; its tags are a list with semicolons or commas."""
    source = source_of(parts, part)
    named = properties.get(part, _NAMES.name) or part.get("title")
    return BinClip(
        key=source.key,
        name=named or (PurePath(source.key).stem if source.path else part.get("id") or ""),
        source=source,
        folder=properties.get(part, _FOLDER) or "",
        tags=tags_in(properties.get(part, _TAGS)),
        notes=properties.get(part, _NOTE) or "",
    )


def _is_background(parts: Parts, holder: Element) -> bool:
    if holder.get("id") in ("black", "background", "black_track"):
        return True
    return _all_sources(parts, holder, lambda source: source.kind is SourceKind.COLOUR)


def _all_sources(parts: Parts, holder: Element, holds: Callable[[Source], bool]) -> bool:
    """True when something holds for all that a playlist plays, and it plays something.

    A long one has thousands of entries and few sources: each is asked once, and none after one that says no.
    """
    known: set[str] = set()
    found = False
    for name in played_in(holder):
        if name not in known:
            known.add(name)
            part = parts.get(name)
            if part is not None and not holds(source_of(parts, part)):
                return False
            found = found or part is not None
    return found


def _is_laid_over(parts: Parts, timeline: Element, strips: list[Strip], index: int) -> bool:
    """True where blends lay the pictures beneath a track over each other.

    Where they do not, one of its own would put the track beneath those that nothing lays over another.
    """
    laid = {blend.upper for blend in blends(parts, timeline)}
    beneath = (s.index for s in strips if s.kind is TrackKind.PICTURE and 0 < s.index < index)
    return all(number in laid for number in beneath)


def _same_material(one: Element, other: Element) -> bool:
    return one.tag == other.tag and properties.get(one, "resource") == properties.get(other, "resource")
