"""How a picture of ours lies in the frame, by the filter with which the host places pictures."""

from __future__ import annotations

from fractions import Fraction

from lxml import etree

from mltassist.document import properties
from mltassist.document.load import Document
from mltassist.document.placing import append
from mltassist.hosts.base import Host
from mltassist.hosts.parts import ROLE, Parts, Spot

Size = tuple[int, int]
"""Width and height, in pixels of the film."""


def place(host: Host, parts: Parts, spot: Spot, *, shape: float = 0.0, push_in: float = 1.0) -> None:
    """Let the picture of an entry fill the frame, and grow about its middle to `push_in` times that.

    shape: its width by its height as it is shown, 0 where it is the film's. The rectangles are never smaller
    than the frame, by exact decimals: no edge is ever seen.
    """
    document = parts.document
    if not document.width or not document.height:
        return
    whole = filling((document.width, document.height), document.shape, Fraction(str(shape)))
    if spot.length < 2:
        push_in = 1.0
    if push_in == 1 and whole == (document.width, document.height):
        return
    base = spot.first if host.keys_from_source else 0
    keys = [(base, _rectangle(document, whole, 1))]
    if push_in > 1:
        keys.append((base + spot.length - 1, _rectangle(document, whole, Fraction(str(push_in)))))
    written = ";".join(f"{parts.write(at)}={text}" for at, text in keys)
    element = etree.Element("filter")
    for name, value in {**host.placing, host.rectangle: written, ROLE: "push"}.items():
        properties.put(element, name, value)
    if not host.keys_from_source:
        parts.set_range(element, spot.first, spot.length)
    home = host.filter_home(parts, spot.element)
    append(home, element)
    etree.indent(element, " ")


def filling(frame: Size, film: Fraction, picture: Fraction) -> Size:
    """The least size at which a whole picture fills a frame. film, picture: width by height, 0 of no other.

    >>> filling((1920, 1080), Fraction(16, 9), Fraction(4, 3))
    (1920, 1440)
    """
    width, height = frame
    if not picture or not film:
        return frame
    if picture > film:
        return _even(width * picture / film, width), height
    return width, _even(height * film / picture, height)


def _even(size: Fraction, least: int) -> int:
    """The next whole number that lies as far beyond the frame on both sides."""
    return least + 2 * -(-(size - least) // 2)


def _rectangle(document: Document, whole: Size, factor: Fraction | int) -> str:
    """A rectangle about the middle of the frame, as the engine reads it."""
    width, height = whole
    wider = -(-width * (factor - 1) // 2)
    higher = -(-Fraction(1000 * wider * height, width) // 1) / Fraction(1000)
    left = Fraction(document.width - width, 2) - wider
    top = Fraction(document.height - height, 2) - higher
    numbers = (left, top, width + 2 * wider, height + 2 * higher)
    return " ".join(f"{float(number):.10g}" for number in numbers) + " 1"
