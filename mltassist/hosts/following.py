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
        for playlist in strip.playlists:
            move_filters(parts, playlist, at, by)
        if strip.holder not in strip.playlists:
            move_filters(parts, strip.holder, at, by)
            move_transitions(parts, strip.holder, at, by)
    move_filters(parts, timeline, at, by)
    move_transitions(parts, timeline, at, by)
    move_markers(host, parts, timeline, at, by)
    host.move_view(parts, timeline, at, by)
    move_subtitles(host, parts, timeline, at, by)
