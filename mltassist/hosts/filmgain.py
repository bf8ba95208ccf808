"""Volume filters of ours put in their place; the one gain on all that is heard."""

from __future__ import annotations

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.hosts.base import Host
from mltassist.hosts.levels import is_ours, volume_filter
from mltassist.hosts.parts import ROLE, append, detach

FILM_GAIN = "film gain"
"""Role of the one gain on all that is heard."""


def set_film_gain(host: Host, timeline: Element, gain_db: float) -> None:
    """A volume filter without range on the timeline itself, in place of an earlier one."""
    drop_film_gain(timeline)
    hang_volume(timeline, volume_filter({**host.volume, ROLE: FILM_GAIN}, [("", gain_db)]))


def drop_film_gain(timeline: Element) -> None:
    """Take it away."""
    for element in list(timeline.iterchildren("filter")):
        if is_ours(element, FILM_GAIN):
            detach(element)


def hang_volume(home: Element, element: Element) -> None:
    """Add a volume filter after all that hangs there already."""
    append(home, element)
    etree.indent(element, " ")
