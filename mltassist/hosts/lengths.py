"""What a document says about how long its film is, brought to a new length."""

from __future__ import annotations

from collections.abc import Collection

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.hosts.parts import Parts


def lengthen(parts: Parts, part: Element, old: int, new: int) -> None:
    """Move an out that speaks of the film's end, or of the frame after it, as some hosts write, with the end.

    One that lies further on stays as long as the film still ends before it; a shorter one is stale.
    """
    out = part.get("out")
    if out is None:
        return
    last = parts.frames(out)
    if last in (old - 1, old):
        part.set("out", parts.write(last + new - old))
    elif old < last < new - 1:
        part.set("out", parts.write(new - 1))


def move_end(parts: Parts, part: Element, by: int) -> None:
    """Move an out by what the film grew or shrank, whatever it was: the engine plays no further."""
    if (out := part.get("out")) is not None:
        part.set("out", parts.write(max(0, parts.frames(out) + by)))


def lengthen_film(
    parts: Parts, timeline: Element, old: int, new: int, users: Collection[Element] = ()
) -> None:
    """The timeline's out and the background beneath it, both as long as the film.

    users: marks of the editor's tracks. The lowest track may be one of them: then there is no background.
    """
    if new != old:
        lengthen(parts, timeline, old, new)
        lowest = next(timeline.iter("track"), None)
        if lowest is not None and lowest not in users:
            lengthen_background(parts, parts.get(lowest.get("producer")), old, new)


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
