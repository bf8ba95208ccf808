"""Dissolves that a document keeps as a small tractor between two clips of a playlist."""

from __future__ import annotations

from typing import NamedTuple

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.hosts.parts import Parts


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


def shift_half(parts: Parts, half: Half, by: int) -> None:
    """Let a half show later frames of what it plays."""
    for name in ("in", "out"):
        half.mark.set(name, parts.write(parts.frames(half.mark.get(name)) + by))
