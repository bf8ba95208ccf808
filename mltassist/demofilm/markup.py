"""What the three documents of the demonstration film are built from: times, properties, clips."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from fractions import Fraction

from lxml import etree

from mltassist.demofilm.film import Film, Placement
from mltassist.errors import TimeError
from mltassist.frames import Rate, round_half_up

ENGINE_VERSION = "7.12.0"


def clock(frame: int, rate: Rate) -> str:
    """``HH:MM:SS.mmm`` that the engine reads back as exactly `frame`.

    The engine adds up floor(hours · 3600 · fps), floor(minutes · 60 · fps) and the nearest frame to
    the seconds, so at 29.97 a plain division by the rate is one frame off after most minute marks.
    Milliseconds are fine enough below 1000 frames per second. Raises TimeError below frame 0.

    >>> clock(24844, Rate(30000, 1001))
    '00:13:48.982'
    """
    if frame < 0:
        raise TimeError(f"frame {frame} lies before the start; a clock time counts from 0")
    fps = rate.fraction
    hours = _most(frame, 3600 * fps)
    frame -= int(hours * 3600 * fps)
    minutes = min(59, _most(frame, 60 * fps))
    frame -= int(minutes * 60 * fps)
    # The last frame of a minute may lie within half a millisecond of the next one.
    milliseconds = min(59_999, round_half_up(frame * 1000 / fps))
    return f"{hours:02}:{minutes:02}:{milliseconds // 1000:02}.{milliseconds % 1000:03}"


def _most(frame: int, step: Fraction) -> int:
    """The greatest n with floor(n · step) <= frame, `step` being at least 1."""
    n = int(frame / step)
    return n + 1 if int((n + 1) * step) <= frame else n


def add(
    parent: etree._Element, tag: str, properties: dict[str, object] | None = None, /, **attributes: str
) -> etree._Element:
    """Append an element with its attributes and, inside it, its properties in their order.

    An attribute whose name is a Python keyword is written with a final underscore (``in_``).
    """
    element = etree.SubElement(parent, tag, {name.rstrip("_"): value for name, value in attributes.items()})
    put(element, properties or {})
    return element


def put(element: etree._Element, properties: dict[str, object]) -> None:
    """Append ``<property>`` children; values are written as `str` gives them."""
    for name, value in properties.items():
        etree.SubElement(element, "property", {"name": name}).text = str(value)


def new_document(film: Film, **attributes: str) -> etree._Element:
    """Root element with the film's profile: square pixels, progressive, Rec. 709.

    There is no ``root`` attribute: media are found from the document's own folder.
    """
    root = etree.Element("mlt", {"LC_NUMERIC": "C", "version": ENGINE_VERSION, **attributes})
    shape, fps = Fraction(film.width, film.height), film.rate.fraction
    profile = {
        # The engine loads a document twice when its profile has no description.
        "description": f"{film.width}x{film.height} at {fps} frames per second",
        "width": film.width,
        "height": film.height,
        "progressive": 1,
        "sample_aspect_num": 1,
        "sample_aspect_den": 1,
        "display_aspect_num": shape.numerator,
        "display_aspect_den": shape.denominator,
        "frame_rate_num": fps.numerator,
        "frame_rate_den": fps.denominator,
        "colorspace": 709,
    }
    add(root, "profile", **{name: str(value) for name, value in profile.items()})
    return root


def gapped(placements: Iterable[Placement]) -> Iterator[tuple[int, Placement]]:
    """The placements in timeline order, each with the frames of black before it.

    Raises TimeError when two of them overlap.
    """
    at = 0
    for spot in sorted(placements, key=lambda spot: spot.start):
        if spot.start < at:
            raise TimeError(
                f"{spot.file} at frame {spot.start} overlaps the clip before it; start it at {at}"
            )
        yield spot.start - at, spot
        at = spot.start + spot.length


def json_text(value: object) -> str:
    """JSON as the hosts lay it out: four spaces of indent, a line feed at the end."""
    return json.dumps(value, ensure_ascii=False, indent=4) + "\n"


def document_bytes(root: etree._Element) -> bytes:
    """The whole document, indented, in UTF-8 with an XML declaration."""
    text: bytes = etree.tostring(root, xml_declaration=True, encoding="utf-8", pretty_print=True)
    return text
