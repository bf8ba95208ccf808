"""Markers of a timeline read, added, moved and taken away, through any host."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from lxml.etree import _Element as Element

from mltassist.hosts.base import Host, MovedFrame
from mltassist.hosts.parts import Parts
from mltassist.hosts.stored import MARKER_PREFIX, Kept, StoredMarker
from mltassist.timeline.model import Marker

_UNREAD = "they cannot be read: they were left as they are; move them by hand"


def as_markers(markers: Iterable[StoredMarker | Kept] | None) -> tuple[Marker, ...]:
    """Markers as the model has them, in order of time."""
    found = [Marker(m.at, m.text, m.ours, m.category) for m in markers or () if isinstance(m, StoredMarker)]
    return tuple(sorted(found, key=lambda marker: marker.at))


def add_markers(host: Host, parts: Parts, timeline: Element, wanted: Iterable[tuple[int, str]]) -> None:
    """Put markers of ours, given as (frame, text), on the timeline, but for those that are there already."""
    markers = _readable(host, parts, timeline)
    if markers is None:
        return
    present = {(marker.at, marker.text) for marker in markers if isinstance(marker, StoredMarker)}
    named = ((at, text if text.startswith(MARKER_PREFIX) else MARKER_PREFIX + text) for at, text in wanted)
    new = tuple(StoredMarker(*one) for one in dict.fromkeys(named) if one not in present)
    if new:
        host.write_markers(parts, timeline, (*markers, *new))


def marked_once(
    markers: Iterable[StoredMarker | Kept] | None, at: int, text: str
) -> tuple[StoredMarker | Kept, ...] | None:
    """These markers with one of ours that is not among them yet; None where they cannot be read."""
    if markers is None:
        return None
    new = StoredMarker(at, text if text.startswith(MARKER_PREFIX) else MARKER_PREFIX + text)
    there = tuple(markers)
    found = any(isinstance(m, StoredMarker) and (m.at, m.text) == (new.at, new.text) for m in there)
    return there if found else (*there, new)


def drop_our_markers(host: Host, parts: Parts, timeline: Element) -> None:
    """Take away the markers of ours."""
    markers = host.read_markers(parts, timeline) or ()
    others = tuple(marker for marker in markers if isinstance(marker, Kept) or not marker.ours)
    if others != markers:
        host.write_markers(parts, timeline, others)


def move_markers(host: Host, parts: Parts, timeline: Element, place: MovedFrame) -> None:
    """Both ends of all markers go where their frames have gone."""
    markers = _readable(host, parts, timeline) or ()
    moved = tuple(marker if isinstance(marker, Kept) else _moved(marker, place) for marker in markers)
    if moved != markers:
        host.write_markers(parts, timeline, moved)


def _moved(marker: StoredMarker, place: MovedFrame) -> StoredMarker:
    return replace(marker, at=place(marker.at), end=None if marker.end is None else place(marker.end))


def _readable(host: Host, parts: Parts, timeline: Element) -> tuple[StoredMarker | Kept, ...] | None:
    """The markers; None where they cannot be read, which the document remembers."""
    markers = host.read_markers(parts, timeline)
    if markers is None:
        parts.document.unmoved[f"{parts.document.path}: its markers"] = _UNREAD
    return markers
