"""Filters and transitions where frames come in or go: moved, made longer, their curves kept as they were.

A place here is a gap, (frame, frames that come in), in frames of the part that a filter hangs on.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from functools import partial

from lxml.etree import _Element as Element

from mltassist.document import keyframes, properties
from mltassist.document.placing import detach, insert_before
from mltassist.document.values import number, whole
from mltassist.errors import TimeError
from mltassist.frames import Rate, Span
from mltassist.hosts.levels import key_length
from mltassist.hosts.parts import Parts


def move_filters(parts: Parts, part: Element, at: int, by: int) -> None:
    """Filters on a track or timeline follow: those that begin later move, those across it last longer.

    With `by` negative the frames before `at` are gone instead. Their keyframes count from the filter's
    own in, so a filter that moves keeps its keys as they are.
    A fade without keys that lies across the place is cut there.
    """
    for element in list(part.iterchildren("filter")):
        first, out = parts.frames(element.get("in")), element.get("out")
        if first >= at and (element.get("in") or out):
            _move(parts, element, "in", by)
            _move(parts, element, "out", by)
            continue
        last = parts.frames(out) if out else None
        if last is not None and last < at:
            continue
        if by > 0 and last is not None and _open_fade(parts, element, Span(first, last + 1), at, by):
            continue
        end, grows = key_length(parts, part, element), out is not None
        if not grows and part.tag == "tractor" and end > at + by:  # its clips have moved already
            end, grows = end - by, True
        _move(parts, element, "out", by)
        for child in element.iterchildren("property"):
            if keyframes.is_animated(child.text or ""):
                change_keys(parts, child, partial(_gap, parts.rate, at - first, by, end, grows=grows))


def _gap(rate: Rate, at: int, by: int, end: int, text: str, *, grows: bool) -> str:
    """Keys with a gap opened or closed; `grows`: the end that some count from moves too."""
    if not grows:
        text = keyframes.from_start(text, rate, end)
    if by > 0:
        return keyframes.open_gap(text, rate, at, by, end)
    return keyframes.close_gap(text, rate, at, -by, end) if at >= -by else text


def change_keys(parts: Parts, value: Element, change: Callable[[str], str]) -> None:
    """Change an animated property of a filter; the document remembers one it cannot read."""
    try:
        value.text = change(value.text or "")
    except TimeError:
        holder = value.getparent()
        service = properties.get(holder, "mlt_service") if holder is not None else None
        name = f"{parts.document.path}: {value.get('name')} {value.text!r:.60} of a filter ({service})"
        parts.document.unmoved[name] = "its times cannot be read and were left as they are; mend it by hand"


_FADES = (("volume", "gain"), ("brightness", "start"))
"""Services that go in a straight line over their whole range, from this property to `end`."""


def _open_fade(parts: Parts, element: Element, span: Span, at: int, by: int) -> bool:
    """Cut a fade without keys in three, so that it is as steep as before and stands still in the gap.

    False, with nothing changed, for every other filter.
    """
    first, last = span.start, span.end - 1
    service = properties.get(element, "mlt_service")
    name = next((start for kind, start in _FADES if kind == service), "")
    if not name or properties.get(element, "level") is not None or last == first:
        return False
    start, end = (number(properties.get(element, which)) for which in (name, "end"))
    if start is None or end is None:
        return False
    # The value of a frame is reached at its end; a filter's first frame has no ramp.
    middle = start + (end - start) * (at - 1 - first) / (last - first)
    pieces = [(first, at - 1, start, middle), (at, at + by - 2, middle, middle)]
    pieces.append((at + by - 1, last + by, middle, end))
    for begins, ends, from_value, to_value in pieces:
        if begins > ends:
            continue
        piece = deepcopy(element)
        piece.tail = None
        piece.set("in", parts.write(begins))
        piece.set("out", parts.write(ends))
        properties.put(piece, name, f"{float(from_value):.6g}")
        properties.put(piece, "end", f"{float(to_value):.6g}")
        insert_before(element, piece)
    detach(element)
    return True


def move_transitions(parts: Parts, part: Element, at: int, by: int) -> None:
    """Transitions between tracks follow; those that are always active have no place to move."""
    for element in part.iterchildren("transition"):
        out = element.get("out")
        if out is None and element.get("in") is None:
            continue
        first, last = parts.frames(element.get("in")), parts.frames(out) if out else None
        if first >= at:
            _move(parts, element, "in", by)
            _move(parts, element, "out", by)
        elif last is not None and last >= at:
            _move(parts, element, "out", by)


def trim_filters(parts: Parts, part: Element, first: int, length: int) -> None:
    """Drop the filters of one half of a split clip that lie wholly in the other half (its fades)."""
    for element in list(part.iterchildren("filter")):
        out = element.get("out")
        begins = parts.frames(element.get("in"))
        ends = parts.frames(out) if out else None
        if (begins, ends) == (0, 0):
            continue
        if begins >= first + length or (ends is not None and ends < first):
            part.remove(element)


def renumber_transitions(part: Element, since: int, by: int = 1) -> None:
    """Add `by` to every track number from `since` on that the transitions of a tractor name."""
    for element in part.iterchildren("transition"):
        for name in ("a_track", "b_track"):
            track = whole(properties.get(element, name))
            if track is not None and track >= since:
                properties.put(element, name, str(track + by))


def _move(parts: Parts, element: Element, name: str, by: int) -> None:
    text = element.get(name)
    if text is not None or name == "in":
        element.set(name, parts.write(parts.frames(text) + by))
