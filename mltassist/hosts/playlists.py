"""Changing a playlist: split, open, fill and empty stretches of it, in whole frames."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document.placing import append, detach, insert_after, insert_before
from mltassist.frames import Span
from mltassist.hosts.parts import Parts, Spot

CopyPart = Callable[[Element], str]
"""Gives the id of the part the second half of a split entry is to play (a copy, or the same one)."""


def blank(parts: Parts, length: int) -> Element:
    """A new blank of `length` frames."""
    return etree.Element("blank", length=parts.write(length))


def split(parts: Parts, playlist: Element, at: int, copy_part: CopyPart | None = None) -> Spot | None:
    """Make frame `at` the start of an item; returns the entry that begins there through a split.

    None when `at` was a boundary already, lay in a blank (which is split too) or past the end.
    """
    spot = next((spot for spot in parts.spots(playlist) if spot.start < at < spot.span.end), None)
    if spot is None:
        return None
    kept = at - spot.start
    second = deepcopy(spot.element)
    second.tail = None
    insert_after(spot.element, second)
    if spot.is_blank:
        spot.element.set("length", parts.write(kept))
        second.set("length", parts.write(spot.length - kept))
        return None
    if copy_part is not None:
        second.set("producer", copy_part(spot.element))
    parts.set_range(spot.element, spot.first, kept)
    parts.set_range(second, spot.first + kept, spot.length - kept)
    return Spot(second, at, spot.length - kept, spot.first + kept)


def open_blank(parts: Parts, playlist: Element, at: int, length: int) -> None:
    """Insert `length` empty frames at `at`, which must be a boundary, lie in a blank, or past the end."""
    for spot in parts.spots(playlist):
        if spot.is_blank and spot.start <= at <= spot.span.end:
            spot.element.set("length", parts.write(spot.length + length))
            return
        if spot.start == at:
            insert_before(spot.element, blank(parts, length))
            return


def fill(parts: Parts, playlist: Element, at: int, length: int, entry: Element) -> bool:
    """Put `entry` (its in and out set) over empty frames `at` … `at + length`.

    Returns False, with nothing changed, when those frames are not all empty.
    """
    span = Span(at, at + length)
    spots = list(parts.spots(playlist))
    if any(not spot.is_blank and spot.span.overlaps(span) for spot in spots):
        return False
    end = spots[-1].span.end if spots else 0
    if end < span.end:
        append(playlist, blank(parts, span.end - end))
    merge_blanks(parts, playlist)  # a pause opened earlier may have left a blank in two
    split(parts, playlist, at)
    split(parts, playlist, span.end)
    for spot in parts.spots(playlist):
        if spot.start == at and spot.length == length:
            insert_before(spot.element, entry)
            detach(spot.element)
            return True
    return False


def clear(parts: Parts, playlist: Element, doomed: Callable[[Spot], bool]) -> list[Element]:
    """Turn the entries that `doomed` picks into blanks; returns them. A blank tail is dropped."""
    removed = []
    for spot in list(parts.spots(playlist)):
        if not spot.is_blank and doomed(spot):
            insert_before(spot.element, blank(parts, spot.length))
            detach(spot.element)
            removed.append(spot.element)
    if removed:
        merge_blanks(parts, playlist)
        last = playlist[-1]
        if last.tag == "blank":
            detach(last)
    return removed


def merge_blanks(parts: Parts, playlist: Element) -> None:
    """Make one blank of those that follow each other."""
    earlier: Spot | None = None
    for spot in list(parts.spots(playlist)):
        if not spot.is_blank or spot.length == 0:
            earlier = None
        elif earlier is None:
            earlier = spot
        else:
            total = earlier.length + spot.length
            earlier.element.set("length", parts.write(total))
            detach(spot.element)
            earlier = Spot(earlier.element, earlier.start, total, 0)
