"""What a document says about how long its film is, brought to a new length."""

from __future__ import annotations

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.hosts.parts import Parts


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
