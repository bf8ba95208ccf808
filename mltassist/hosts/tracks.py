"""Tracks of ours put among the others; tracks that are plain playlists, whatever their host names them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.placing import append, detach, insert_after, insert_before
from mltassist.document.values import whole
from mltassist.hosts.base import OUR_TRACKS, Host, Strip
from mltassist.hosts.groups import move_links
from mltassist.hosts.parts import ROLE, Parts
from mltassist.hosts.ripple import renumber_transitions
from mltassist.timeline.model import TrackKind

BLENDS = ("qtblend", "frei0r.cairoblend", "affine", "composite", "movit.overlay")
"""Services that lay one picture track over another."""


@dataclass(frozen=True, slots=True)
class PlaylistNames:
    """What a host calls the properties of a track that is a plain playlist; "" for what it has not.

    name: of the track. locked, sound, picture: hold "1" on a track that is so; where sound has none, a track
    whose picture is hidden is one for sound. shown: `hide` of a new track for pictures. off: that of one
    which is switched off. indent: the document's white space for each level.
    """

    name: str
    locked: str = ""
    sound: str = ""
    picture: str = ""
    shown: str = ""
    off: str = "video"
    indent: str = " "


def playlist_strip(names: PlaylistNames, index: int, mark: Element, holder: Element) -> Strip:
    """A track that is a plain playlist; `hide` only says which of its halves is switched off."""
    hide = mark.get("hide", "")
    muted = hide in ("audio", "both")
    values = properties.all_of(holder)  # at once: each look goes past all of its clips
    sound = values.get(names.sound) == "1" if names.sound else hide == "video"
    return Strip(
        index=index,
        mark=mark,
        holder=holder,
        playlists=(holder,),
        kind=TrackKind.SOUND if sound else TrackKind.PICTURE,
        name=values.get(names.name, ""),
        has_sound=not muted,
        locked=values.get(names.locked) == "1",
        hidden=not sound and hide in ("video", "both"),
        muted=muted,
        switches=(mark,),
        off=names.off,
        marked=values.get(ROLE, ""),
    )


def tracks_of(parts: Parts, timeline: Element, tag: str) -> Iterator[tuple[int, Element, Element]]:
    """The tracks that are playlists, or tractors: number, <track>, what it names."""
    for index, mark in enumerate(timeline.iter("track")):
        holder = parts.get(mark.get("producer"))
        if holder is not None and holder.tag == tag:
            yield index, mark, holder


def new_playlist(names: PlaylistNames, parts: Parts, timeline: Element, role: str) -> Element:
    """A playlist for a track of ours, and the <track> that names it, still to be put in its place."""
    sound = OUR_TRACKS[role].kind is TrackKind.SOUND
    playlist = etree.Element("playlist", id=parts.fresh_id("playlist"))
    values = {names.sound if sound else names.picture: "1", names.name: OUR_TRACKS[role].name, ROLE: role}
    for name, value in values.items():
        if name:
            properties.put(playlist, name, value)
    etree.indent(playlist, names.indent, level=1)
    parts.add(playlist, before=timeline)
    mark = etree.Element("track", producer=playlist.get("id", ""))
    if hide := "video" if sound else names.shown:
        mark.set("hide", hide)
    return mark


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


def drop_track(host: Host, parts: Parts, timeline: Element, strip: Strip) -> None:
    """Take out a track that nothing lies on: what holds it, and the transitions that name it.

    All that counts the tracks above it names them by one less.
    """
    index = strip.index
    for element in list(timeline.iterchildren("transition")):
        if index in (whole(properties.get(element, name)) for name in ("a_track", "b_track")):
            detach(element)
    detach(strip.mark)
    for part in dict.fromkeys((strip.holder, *strip.playlists)):
        parts.remove(part)
    renumber_transitions(timeline, since=index + 1, by=-1)
    move_links(host, parts, timeline, lambda track, start: (track - (track > index), start))
    host.count_track(parts, timeline, index, -1)


def add_mix(parts: Parts, timeline: Element, index: int, values: Mapping[str, str] | None = None) -> None:
    """Bring a new track to the ear; `values`: what the host writes where there is none to copy."""
    _add_transition(parts, timeline, index, ("mix",), {"mlt_service": "mix", "sum": "1", **(values or {})})


def add_blend(
    parts: Parts, timeline: Element, index: int, values: Mapping[str, str], lowest: int = 0
) -> None:
    """Lay a new track over the others, from the `lowest`; `values` as with `add_mix`."""
    blend = {"a_track": str(lowest), "mlt_service": "qtblend", **values}
    _add_transition(parts, timeline, index, BLENDS, blend)


def _add_transition(
    parts: Parts, timeline: Element, index: int, services: tuple[str, ...], fallback: Mapping[str, str]
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
    # The engine acts in their order: what lays a higher track over the lowest must come later.
    higher = next((t for t in present if _lays_above(t, index)), None) if services == BLENDS else None
    if higher is not None:
        insert_before(higher, new)
        return
    anchor = present[-1] if present else list(timeline.iter("track"))[-1]
    insert_after(anchor, new)


def _lays_above(transition: Element, index: int) -> bool:
    upper = whole(properties.get(transition, "b_track"))
    return properties.get(transition, "mlt_service") in BLENDS and upper is not None and upper > index
