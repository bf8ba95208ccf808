"""What follows a change of the film's length, besides clips and links."""

from __future__ import annotations

from lxml.etree import _Element as Element

from mltassist.hosts.base import Host
from mltassist.hosts.markers import move_markers
from mltassist.hosts.parts import Parts
from mltassist.hosts.ripple import move_filters, move_transitions
from mltassist.hosts.subtitles import move_subtitles
from mltassist.timeline.moves import Moves


def move_all_else(host: Host, parts: Parts, timeline: Element, moves: Moves) -> None:
    """Filters, transitions, markers, view and subtitles go where the film has moved to, on every track."""
    for at, by in moves.gaps():
        for strip in host.strips(parts, timeline):
            for part in dict.fromkeys((*strip.playlists, strip.holder)):
                move_filters(parts, part, at, by)
                move_transitions(parts, part, at, by)  # a playlist has none
        move_filters(parts, timeline, at, by)
        move_transitions(parts, timeline, at, by)
    move_markers(host, parts, timeline, moves.frame)
    host.move_view(parts, timeline, moves.frame)
    move_subtitles(host, parts, timeline, moves.frame)
