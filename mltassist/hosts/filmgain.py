"""Volume filters of ours put in their place; the one gain on all that is heard."""

from __future__ import annotations

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.hosts.base import Host
from mltassist.hosts.levels import curve_filter, gain_text, is_ours
from mltassist.hosts.parts import ROLE, append, detach
from mltassist.timeline.edits import MOST_GAIN_DB

FILM_GAIN = "film gain"
"""Role of the one gain on all that is heard."""


def set_film_gain(host: Host, timeline: Element, gain_db: float) -> None:
    """A volume filter without range on the timeline itself, in place of an earlier one."""
    drop_film_gain(timeline)
    element = curve_filter({**host.volume, ROLE: FILM_GAIN}, [], "0", "0")
    del element.attrib["in"], element.attrib["out"]
    properties.put(element, "level", gain_text(gain_db))
    if gain_db > MOST_GAIN_DB:
        properties.put(element, "max_gain", "0")  # lifts the engine's limit
    hang_volume(timeline, element)


def drop_film_gain(timeline: Element) -> None:
    """Take it away."""
    for element in list(timeline.iterchildren("filter")):
        if is_ours(element, FILM_GAIN):
            detach(element)


def hang_volume(home: Element, element: Element) -> None:
    """Add a volume filter after all that hangs there already."""
    if not properties.get(element, "mlt_service"):
        properties.put(element, "mlt_service", "volume")
    append(home, element)
    etree.indent(element, " ")
