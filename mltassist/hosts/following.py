"""What follows a change of the film's length, besides clips and links."""

from __future__ import annotations

from lxml.etree import _Element as Element

from mltassist.hosts.base import Host
from mltassist.hosts.markers import move_markers
from mltassist.hosts.parts import Parts
from mltassist.hosts.ripple import move_filters, move_transitions
from mltassist.hosts.subtitles import move_subtitles


def move_all_else(host: Host, parts: Parts, timeline: Element, at: int, by: int) -> None:
    """Filters, transitions, markers and subtitles from frame `at` on move `by` frames, on every track."""
    for strip in host.strips(parts, timeline):
        for part in dict.fromkeys((*strip.playlists, strip.holder)):
            move_filters(parts, part, at, by)
            move_transitions(parts, part, at, by)  # a playlist has none
    move_filters(parts, timeline, at, by)
    move_transitions(parts, timeline, at, by)
    move_markers(host, parts, timeline, at, by)
    host.move_view(parts, timeline, at, by)
    move_subtitles(host, parts, timeline, at, by)
