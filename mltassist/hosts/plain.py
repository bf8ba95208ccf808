"""Plain MLT XML: playlists in a tractor, written by hand or by a program.

It has no bin, names, tags or guides of its own. Where the document carries them in properties of the
`mltassist:` namespace they are read; otherwise the producers that no track plays are the bin.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from copy import deepcopy
from pathlib import PurePath
from typing import Any

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.hosts.base import GUIDE_PREFIX, OUR_TRACKS, Host, Strip, neighbour, sibling_copy
from mltassist.hosts.levels import ROLE
from mltassist.hosts.parts import PRODUCERS, Parts, append, insert_after
from mltassist.hosts.ripple import renumber_transitions
from mltassist.hosts.sources import service_of, source_of
from mltassist.timeline.model import BinClip, Guide, SourceKind, TrackKind

BINS = ("main_bin", "main bin")
_GUIDES = "mltassist:guides"


class Plain(Host):
    """MLT XML that no editor has put its mark on."""

    name = "mlt"

    def owns(self, root: Element) -> bool:
        """Any document that has not been recognised before; this host is asked last."""
        return True

    def timeline(self, parts: Parts) -> Element | None:
        """The last tractor: the engine plays the last thing in the document."""
        return next((part for part in reversed(parts.root) if part.tag == "tractor"), None)

    def strips(self, parts: Parts, timeline: Element) -> list[Strip]:
        """Every track that is a playlist, except a background of plain colour at the bottom."""
        found = []
        mixed = mixed_tracks(timeline)
        for index, mark in enumerate(timeline.iter("track")):
            holder = parts.get(mark.get("producer"))
            if holder is None or holder.tag != "playlist" or (index == 0 and _is_background(parts, holder)):
                continue
            hide = mark.get("hide", "")
            found.append(
                Strip(
                    index=index,
                    mark=mark,
                    holder=holder,
                    playlists=(holder,),
                    kind=TrackKind.SOUND if hide == "video" else TrackKind.PICTURE,
                    name=properties.get(holder, "mltassist:name") or holder.get("title") or "",
                    has_sound=hide not in ("audio", "both") and (index in mixed or not mixed),
                    hidden=hide == "both",
                    muted=hide in ("audio", "both"),
                )
            )
        return found

    def bin_parts(self, parts: Parts) -> Iterator[tuple[Element, Element | None]]:
        """What the playlist called main_bin lists; without one, the producers that no entry names."""
        listing = next((parts.get(name) for name in BINS if parts.get(name) is not None), None)
        if listing is not None:
            for entry in listing.iterchildren("entry"):
                part = parts.get(entry.get("producer"))
                if part is not None and part.tag in PRODUCERS:
                    yield part, entry
            return
        named = {element.get("producer") for element in parts.root.iter("entry", "track")}
        for part in parts.by_id.values():
            if part.tag in PRODUCERS and part.get("id") not in named:
                yield part, None

    def bin_clip(self, parts: Parts, part: Element, entry: Element | None) -> BinClip:
        """A clip of the bin; its tags are a list with semicolons or commas."""
        source = source_of(parts, part)
        return BinClip(
            key=source.key,
            name=self.caption(part, properties.all_of(part))
            or (PurePath(source.key).stem if source.path else part.get("id", "")),
            source=source,
            folder=properties.get(part, "mltassist:folder") or "",
            tags=words(properties.get(part, "mltassist:tags")),
            notes=properties.get(part, "mltassist:note") or "",
        )

    def caption(self, part: Element, values: Mapping[str, str]) -> str:
        """Name given to a producer."""
        return values.get("mltassist:name") or part.get("title") or ""

    def guides(self, parts: Parts, timeline: Element) -> tuple[Guide, ...]:
        """Guides kept in a property of ours."""
        return tuple(
            Guide(int(item["at"]), str(item["text"]), str(item["text"]).startswith(GUIDE_PREFIX))
            for item in _guides(timeline)
        )

    def linked(self, parts: Parts, timeline: Element) -> tuple[tuple[tuple[int, int], ...], ...]:
        """Plain MLT links nothing."""
        return ()

    def make_strip(self, parts: Parts, timeline: Element, role: str) -> None:
        """A playlist, its track on top or above the one it belongs to, and the mix or blend all have."""
        kind, name = OUR_TRACKS[role].kind, OUR_TRACKS[role].name
        playlist = etree.Element("playlist", id=parts.fresh_id("playlist"))
        properties.put(playlist, "mltassist:name", name)
        properties.put(playlist, ROLE, role)
        etree.indent(playlist, " ", level=1)
        parts.add(playlist, before=timeline)
        mark = etree.Element("track", producer=playlist.get("id", ""))
        mark.set("hide", "video" if kind is TrackKind.SOUND else "audio")
        index = add_mark(timeline, mark, neighbour(self.strips(parts, timeline), role))
        if kind is TrackKind.SOUND:
            add_transition(parts, timeline, index, ("mix",), {"mlt_service": "mix", "sum": "1"})
        else:
            blend = {"mlt_service": "qtblend", "compositing": "0", "distort": "0"}
            add_transition(parts, timeline, index, BLENDS, blend)

    def switch_off(self, strip: Strip) -> None:
        """Both halves, for a track that only hides its picture is one for sound."""
        strip.mark.set("hide", "both")

    def clip_part(self, parts: Parts, part: Element, strip: Strip, *, picture: bool, sound: bool) -> str:
        """One copy of each producer per track of ours, with the half that is not wanted switched off."""
        for candidate in parts.ours(strip.role):
            if _same_material(candidate, part):
                return candidate.get("id", "")
        copy = sibling_copy(parts, part, "producer", strip.role)
        silence(copy, picture=picture, sound=sound)
        return copy.get("id", "")

    def filter_home(self, parts: Parts, entry: Element) -> Element:
        """The entry: producers may be played by several."""
        return entry

    def level_properties(self) -> dict[str, str]:
        """The engine's own filter and nothing more."""
        return {"mlt_service": "volume"}

    def add_guide(self, parts: Parts, timeline: Element, at: int, text: str) -> None:
        """One more in the list, which stays in order."""
        items = [*_guides(timeline), {"at": at, "text": text}]
        _write_guides(timeline, sorted(items, key=lambda item: int(item["at"])))

    def drop_our_guides(self, parts: Parts, timeline: Element) -> None:
        """Those of ours leave the list."""
        items = _guides(timeline)
        kept = [item for item in items if not str(item["text"]).startswith(GUIDE_PREFIX)]
        if len(kept) < len(items):
            _write_guides(timeline, kept)

    def move_guides(self, parts: Parts, timeline: Element, at: int, by: int) -> None:
        """Their frame is all that changes."""
        items = _guides(timeline)
        if any(int(item["at"]) >= at for item in items):
            moved = [{**i, "at": int(i["at"]) + by} if int(i["at"]) >= at else i for i in items]
            _write_guides(timeline, moved)

    def record(self, parts: Parts, timeline: Element) -> str | None:
        """A property of the timeline."""
        return properties.get(timeline, "mltassist:record")

    def put_record(self, parts: Parts, timeline: Element, text: str) -> None:
        """See `record`."""
        properties.put(timeline, "mltassist:record", text)

    def set_length(self, parts: Parts, timeline: Element, old: int, new: int) -> None:
        """The timeline's out, and the background that lies under all of it."""
        lengthen_film(parts, timeline, old, new)


BLENDS = ("qtblend", "frei0r.cairoblend", "affine", "composite", "movit.overlay")
"""Services that lay one picture track over another."""


def words(text: str | None) -> tuple[str, ...]:
    """Tags from a list with semicolons, commas or line ends."""
    return tuple(word.strip() for word in re.split(r"[;,\n]", text or "") if word.strip())


def mixed_tracks(timeline: Element) -> set[int]:
    """Numbers of the tracks that a mix brings to the ear."""
    return {
        int(text)
        for transition in timeline.iterchildren("transition")
        if properties.get(transition, "mlt_service") == "mix"
        and (text := (properties.get(transition, "b_track") or "").strip()).isdigit()
    }


def add_mark(timeline: Element, mark: Element, below: Strip | None = None) -> int:
    """A new track on top of the others, or right above one of them; gives its number."""
    marks = list(timeline.iter("track"))
    if not marks:
        append(timeline, mark)
        return 0
    anchor = marks[-1] if below is None else below.mark
    insert_after(anchor, mark)
    index = marks.index(anchor) + 1
    renumber_transitions(timeline, since=index)
    return index


def add_transition(
    parts: Parts, timeline: Element, index: int, services: tuple[str, ...], fallback: dict[str, str]
) -> None:
    """The transition a new track needs: a copy of one that serves another track, else `fallback`."""
    present = list(timeline.iterchildren("transition"))
    model = next(
        (
            t
            for t in reversed(present)
            if properties.get(t, "mlt_service") in services
            and t.get("in") is None
            and (properties.get(t, "disable") or "0") in ("", "0")
        ),
        None,
    )
    if model is not None:
        new = deepcopy(model)
    else:
        new = etree.Element("transition")
        for name, value in {"a_track": "0", "b_track": "0", "always_active": "1", **fallback}.items():
            properties.put(new, name, value)
        etree.indent(new, " ", level=2)
    new.set("id", parts.fresh_id("transition"))
    properties.put(new, "b_track", str(index))
    anchor = present[-1] if present else list(timeline.iter("track"))[-1]
    insert_after(anchor, new)


def silence(part: Element, *, picture: bool, sound: bool) -> None:
    """Switch off the stream of a file that a copy is not to play."""
    if service_of(part) in ("", "avformat", "avformat-novalidate"):
        if not sound:
            properties.put(part, "audio_index", "-1")
        if not picture:
            properties.put(part, "video_index", "-1")


def lengthen(parts: Parts, part: Element, old: int, new: int) -> None:
    """Bring an out that spoke of the old length to the new; one that says something else stays."""
    out = part.get("out")
    if out is not None and parts.frames(out) == old - 1:
        part.set("out", parts.write(new - 1))


def lengthen_film(parts: Parts, timeline: Element, old: int, new: int) -> None:
    """The timeline's out and the background beneath it, both as long as the film."""
    if new != old:
        lengthen(parts, timeline, old, new)
        for mark in list(timeline.iter("track"))[:1]:
            lengthen_background(parts, parts.get(mark.get("producer")), old, new)


def lengthen_background(parts: Parts, background: Element | None, old: int, new: int) -> None:
    """A background that ended with the film, or would now end before it, ends with it again."""
    if background is None:
        return
    if background.tag == "playlist":
        for spot in list(parts.spots(background))[-1:]:
            lengthen_background(parts, parts.get(spot.element.get("producer")), old, new)
            lengthen(parts, spot.element, old, new)
        return
    lengthen(parts, background, old, new)
    text = properties.get(background, "length")
    if text is not None and parts.frames(text) == old:
        properties.put(background, "length", parts.write(new) if ":" in text else str(new))


def _is_background(parts: Parts, holder: Element) -> bool:
    if holder.get("id") in ("black", "background", "black_track"):
        return True
    spots = [spot for spot in parts.spots(holder) if not spot.is_blank]
    played = [parts.get(spot.element.get("producer")) for spot in spots]
    return bool(played) and all(
        part is not None and source_of(parts, part).kind is SourceKind.COLOUR for part in played
    )


def _same_material(one: Element, other: Element) -> bool:
    return one.tag == other.tag and properties.get(one, "resource") == properties.get(other, "resource")


def _guides(timeline: Element) -> list[dict[str, Any]]:
    try:
        items = json.loads(properties.get(timeline, _GUIDES) or "[]")
    except ValueError:
        return []
    return [item for item in items if isinstance(item, dict) and {"at", "text"} <= item.keys()]


def _write_guides(timeline: Element, items: list[dict[str, Any]]) -> None:
    properties.put(timeline, _GUIDES, json.dumps(items, ensure_ascii=False))
