"""How much a nested edit hides of what lies beneath it, as far as the document tells."""

from __future__ import annotations

from collections.abc import Callable

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.values import whole
from mltassist.hosts.levels import filters
from mltassist.hosts.parts import PRODUCERS, Parts
from mltassist.hosts.tracks import BLENDS
from mltassist.timeline.model import Coverage, Source, SourceKind

_WHOLE = (SourceKind.FILE, SourceKind.IMAGE, SourceKind.COLOUR)
_SOUND = ("volume", "panner", "mono")

Inside = tuple[Coverage, tuple[Source, ...]]
"""How much it hides, and the files that must be looked at before that is sure."""


def within(parts: Parts, part: Element, source_of: Callable[[Parts, Element], Source]) -> Inside:
    """What is known of a playlist or tractor that is played as a clip. Whatever is not sure is a part.

    It hides all beneath it where an opaque colour lies below all of its tracks, to which each of them is
    laid, or where it is one row without a blank of pictures that do. (Measured on melt 7.12: a blank within
    is transparent, and so is what a picture of another shape leaves free.)
    """
    tracks = _tracks(parts, part)
    if (
        tracks
        and _is_floor(parts, tracks[0], source_of)
        and (len(tracks) == 1 or _all_laid(part, len(tracks)))
    ):
        return Coverage.WHOLE, ()
    shown = [track for track in tracks if track is not None]
    if len(shown) != 1 or len(tracks) != 1 or next(iter(filters(part)), None) is not None:
        return Coverage.PART, ()
    sources = _row(parts, shown[0], source_of)
    return (Coverage.WHOLE, sources) if sources else (Coverage.PART, ())


def _tracks(parts: Parts, part: Element) -> list[Element | None]:
    """What the tracks play, lowest first; None for one whose picture is switched off."""
    if part.tag == "playlist":
        return [part]
    marks = list(part.iter("track"))
    hidden = ("video", "both")
    return [None if mark.get("hide") in hidden else parts.get(mark.get("producer")) for mark in marks]


def _is_floor(parts: Parts, track: Element | None, source_of: Callable[[Parts, Element], Source]) -> bool:
    """True for a track that is one opaque colour from end to end."""
    part = track
    if track is not None and track.tag == "playlist":
        spots = list(parts.spots(track))
        part = parts.get(spots[0].element.get("producer")) if len(spots) == 1 else None
    if part is None or part.tag not in PRODUCERS:
        return False
    source = source_of(parts, part)
    return source.kind is SourceKind.COLOUR and source.coverage is Coverage.WHOLE


def _all_laid(part: Element, count: int) -> bool:
    """True where every track but the lowest is laid over another by a transition."""
    laid = {
        whole(properties.get(element, "b_track"))
        for element in part.iterchildren("transition")
        if (properties.get(element, "mlt_service") or "").strip() in BLENDS
        and (properties.get(element, "disable") or "0").strip() in ("", "0")
    }
    return all(number in laid for number in range(1, count))


def _row(parts: Parts, track: Element, source_of: Callable[[Parts, Element], Source]) -> tuple[Source, ...]:
    """The sources of a row of pictures without a blank or an effect; none where it is anything else."""
    if track.tag != "playlist" or _has_effect(track):
        return ()
    found: dict[Source, None] = {}
    for spot in parts.spots(track):
        if spot.length <= 0:
            continue
        played = parts.get(spot.element.get("producer"))
        if played is None or played.tag not in PRODUCERS or any(map(_has_effect, (spot.element, played))):
            return ()
        source = source_of(parts, played)
        if source.kind not in _WHOLE or source.coverage is not Coverage.WHOLE:
            return ()
        found[source] = None
    return tuple(found)


def _has_effect(holder: Element) -> bool:
    return any((properties.get(one, "mlt_service") or "") not in _SOUND for one in filters(holder))
