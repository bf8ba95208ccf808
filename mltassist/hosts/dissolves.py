"""Dissolves that a document keeps as a small tractor between two clips of a playlist."""

from __future__ import annotations

from typing import NamedTuple

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.hosts.base import sibling_copy
from mltassist.hosts.nesting import all_played
from mltassist.hosts.parts import PRODUCERS, Parts, Spot
from mltassist.hosts.sources import source_of


class Half(NamedTuple):
    """One clip of a dissolve: the track that names it, its part, and the first of its frames shown."""

    mark: Element
    part: Element
    first: int


def dissolve_halves(parts: Parts, part: Element | None) -> tuple[Half, Half] | None:
    """What goes out and what comes in; None for a part that is no dissolve."""
    if part is None or part.tag != "tractor":
        return None
    marks = list(part.iter("track"))
    if len(marks) != 2 or not all(mark.get("out") for mark in marks):
        return None
    if properties.get(part, "shotcut:transition") is None and part.find("transition") is None:
        return None
    first, second = (parts.get(mark.get("producer")) for mark in marks)
    if first is None or second is None:
        return None
    begins = [parts.frames(mark.get("in")) for mark in marks]
    return Half(marks[0], first, begins[0]), Half(marks[1], second, begins[1])


def own_part(parts: Parts, half: Half) -> Element:
    """The part of a half; a copy of it, which the half then names, where something else plays it too."""
    played = all_played(parts.root)[half.part.get("id", "")]
    if played <= 1 or half.part.tag not in PRODUCERS:
        return half.part
    copy = sibling_copy(parts, half.part, half.part.tag)
    half.mark.set("producer", copy.get("id", ""))
    return copy


def begins_in(parts: Parts, half: Half, dissolve: Spot, spot: Spot) -> bool:
    """True for a clip that goes on, right after a dissolve, with what this half of it brings in."""
    right_after = spot.start == dissolve.span.end and half.first + dissolve.length == spot.first
    return right_after and not spot.is_blank and _alike(parts, half, spot)


def half_after(parts: Parts, playlist: Element, spot: Spot) -> tuple[Half, Spot] | None:
    """The half of a dissolve in which a clip goes on, right after it, and that dissolve."""
    for after in parts.spots(playlist):
        part = parts.get(after.element.get("producer"))
        if after.start == spot.span.end and (halves := dissolve_halves(parts, part)) is not None:
            out = halves[0]
            plays_on = out.first == spot.first + spot.length and _alike(parts, out, spot)
            return (out, after) if plays_on else None
    return None


def _alike(parts: Parts, half: Half, spot: Spot) -> bool:
    """True when both play one source; a host may have copied the part."""
    part = parts.get(spot.element.get("producer"))
    return part is not None and source_of(parts, part).key == source_of(parts, half.part).key


def shift_half(parts: Parts, half: Half, by: int) -> None:
    """Let a half show later frames of what it plays."""
    for name in ("in", "out"):
        half.mark.set(name, parts.write(parts.frames(half.mark.get(name)) + by))
