"""A picture of ours that grows slowly about its middle, by the filter with which the host places pictures."""

from __future__ import annotations

from fractions import Fraction

from lxml import etree

from mltassist.document import properties
from mltassist.document.placing import append
from mltassist.hosts.base import Host
from mltassist.hosts.parts import ROLE, Parts, Spot


def push_in(host: Host, parts: Parts, spot: Spot, factor: float) -> None:
    """Let the picture of an entry grow from the whole frame to `factor` times that at its last frame.

    The rectangles are never smaller than the frame, by exact decimals: no edge is ever seen.
    """
    width, height = parts.document.width, parts.document.height
    if not width or not height or spot.length < 2:
        return
    beside = -(-width * (Fraction(str(factor)) - 1) // 2)
    above = -(-Fraction(1000 * beside * height, width) // 1) / Fraction(1000)
    end = (-beside, -above, width + 2 * beside, height + 2 * above)
    base = spot.first if host.keys_from_source else 0
    keys = ((base, (0, 0, width, height)), (base + spot.length - 1, end))
    written = ";".join(f"{parts.write(at)}={' '.join(f'{float(n):.10g}' for n in r)} 1" for at, r in keys)
    element = etree.Element("filter")
    for name, value in {**host.placing, host.rectangle: written, ROLE: "push"}.items():
        properties.put(element, name, value)
    if not host.keys_from_source:
        parts.set_range(element, spot.first, spot.length)
    home = host.filter_home(parts, spot.element)
    append(home, element)
    etree.indent(element, " ")
