"""Is a document sound? Faults of structure that an engine passes over in silence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.values import whole
from mltassist.frames import format_timecode
from mltassist.hosts.base import Host, Strip
from mltassist.hosts.groups import grouped
from mltassist.hosts.parts import PLAYABLE, PRODUCERS, Parts
from mltassist.hosts.reading import main_timeline
from mltassist.project import Project
from mltassist.timeline.model import Gap, Timeline


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """Something wrong in a document. kind: its short name; where: the part it is in; what: in words."""

    kind: str
    where: str
    what: str

    def as_dict(self) -> dict[str, Any]:
        """Plain data, in the form of docs/formats.md."""
        return {"kind": self.kind, "where": self.where, "what": self.what}


def check(project: Project, *, original: Project | None = None) -> tuple[Fault, ...]:
    """Faults of a project, in a stable order; with `original`, only those that it does not have."""
    parts = Parts(project.document)
    timeline = main_timeline(project.host, parts)
    found = [
        *_ids(parts),
        *_ranges(parts),
        *_transitions(parts),
        *_tracks(project.host, parts, timeline),
        *_groups(project.host, parts, timeline, project.timeline),
        *_pairs(project.timeline),
        *_media(project.timeline),
    ]
    known = Counter(check(original)) if original is not None else Counter[Fault]()
    return tuple(sorted((Counter(found) - known).elements()))


def _name(element: Element) -> str:
    return f"<{element.tag}> {element.get('id') or properties.get(element, 'mlt_service') or ''}".strip()


def _ids(parts: Parts) -> Iterator[Fault]:
    """Ids defined once, and before they are named."""
    known: set[str] = set()
    for part in parts.root.iterchildren(*PLAYABLE):
        for element in part.iter("entry", "track"):
            wanted = element.get("producer")
            # An empty name is how a host leaves a track it does not want.
            if wanted and wanted not in known:
                rest = "before it is defined" if wanted in parts.by_id else "which is nowhere"
                yield Fault("id", _name(part), f"names {wanted!r}, {rest}")
        if identity := part.get("id"):
            if identity in known:
                yield Fault("id", _name(part), "has the id of an earlier part")
            known.add(identity)


def _ranges(parts: Parts) -> Iterator[Fault]:
    """No in after its out."""
    for element in parts.root.iter("entry", *PRODUCERS, "filter", "transition"):
        first, last = element.get("in"), element.get("out")
        if first is not None and last is not None and parts.frames(first) > parts.frames(last):
            yield Fault("range", _name(element), f"in {first} lies after out {last}")


def _transitions(parts: Parts) -> Iterator[Fault]:
    """Transitions between tracks that are there."""
    for tractor in parts.root.iterchildren("tractor"):
        count = sum(1 for _ in tractor.iter("track"))
        for element in tractor.iterchildren("transition"):
            for name in ("a_track", "b_track"):
                track = whole(properties.get(element, name))
                if track is not None and track >= count:
                    yield Fault(
                        "transition", _name(tractor), f"{name} {track} of {_name(element)}, of {count} tracks"
                    )


def _tracks(host: Host, parts: Parts, timeline: Element) -> Iterator[Fault]:
    """A tractor is as long as the longest of its playlists, where it says so."""
    for strip in host.strips(parts, timeline):
        length = _content(parts, strip)
        out = strip.holder.get("out") if strip.holder.tag == "tractor" else None
        if out is not None and length and parts.frames(out) != length - 1:
            yield Fault(
                "length", _name(strip.holder), f"out is {out}, its clips end at {parts.write(length - 1)}"
            )
        for playlist in strip.playlists:
            for spot in parts.spots(playlist):
                if spot.length <= 0:
                    yield Fault("length", _name(playlist), f"an item of {spot.length} frames at {spot.start}")


def _content(parts: Parts, strip: Strip) -> int:
    return max((parts.length_of(playlist) for playlist in strip.playlists), default=0)


def _groups(host: Host, parts: Parts, element: Element, timeline: Timeline) -> Iterator[Fault]:
    """Groups name clips that exist."""
    starts = {
        (track.index, item.start)
        for track in timeline.tracks
        for item in track.items
        if not isinstance(item, Gap)
    }
    # Clips that dissolve lie in two playlists, where the group names their own start.
    for strip in host.strips(parts, element):
        for playlist in strip.playlists[1:]:
            starts |= {(strip.index, spot.start) for spot in parts.spots(playlist) if not spot.is_blank}
        if len(strip.playlists) > 1:
            starts |= {
                (strip.index, spot.start) for spot in parts.spots(strip.playlists[0]) if not spot.is_blank
            }
    for track, start in grouped(host, parts, element):
        if (track, start) not in starts:
            yield Fault(
                "group", f"track {track}", f"a group names a clip at frame {start}, where none starts"
            )


def _pairs(timeline: Timeline) -> Iterator[Fault]:
    """Picture and sound of one clip start together on the same frame of the source."""
    by_place = {(t.index, c.start): c for t in timeline.tracks for c in t.clips()}
    for pair in timeline.linked:
        clips = [by_place[place] for place in pair if place in by_place]
        # Sound may lead its picture; what must agree is how far each is from its source.
        offsets = {clip.start - clip.source_in for clip in clips if clip.plain_speed}
        if len(clips) == 2 and clips[0].source.key == clips[1].source.key and len(offsets) > 1:
            where = f"tracks {pair[0][0]} and {pair[1][0]}"
            at = format_timecode(min(clip.start for clip in clips), timeline.rate)
            yield Fault("step", where, f"picture and sound of {clips[0].name!r} at {at} are out of step")


def _media(timeline: Timeline) -> Iterator[Fault]:
    """Files that are there."""
    paths = {clip.source.path for clip in timeline.bin}
    paths |= {clip.source.path for track in timeline.tracks for clip in track.clips()}
    for path in sorted(path for path in paths if path is not None and not path.exists()):
        yield Fault("media", str(path), "the file is not there")
