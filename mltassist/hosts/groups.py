"""Groups of clips read, added, moved and taken away, through any host."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from dataclasses import replace

from lxml.etree import _Element as Element

from mltassist.hosts.base import Host, Mover
from mltassist.hosts.parts import Parts
from mltassist.hosts.stored import Group, Grouped, Kept, Member
from mltassist.timeline.moves import Place

_UNREAD = "they cannot be read: they were left as they are; group the clips anew"


def linked(host: Host, parts: Parts, timeline: Element) -> tuple[tuple[Place, ...], ...]:
    """Picture and sound of one clip, each as (track, start); groups within groups included."""
    found = (
        tuple(member.place for member in group.members if isinstance(member, Member))
        for group in _within(host.read_groups(parts, timeline) or ())
        if isinstance(group, Group) and group.pair
    )
    return tuple(pair for pair in found if len(pair) == 2)


def grouped(host: Host, parts: Parts, timeline: Element) -> tuple[Place, ...]:
    """Every clip that some group names."""
    groups = host.read_groups(parts, timeline) or ()
    return tuple(found.place for found in _within(groups) if isinstance(found, Member))


def link(host: Host, parts: Parts, timeline: Element, clips: tuple[Place, ...]) -> None:
    """Link picture and sound of one clip, where the host links clips."""
    groups = _readable(host, parts, timeline)
    if groups is not None:
        pair = Group(tuple(Member(*place) for place in clips), pair=True)
        host.write_groups(parts, timeline, (*groups, pair))


def move_links(host: Host, parts: Parts, timeline: Element, change: Mover) -> None:
    """Groups name their clips by position, which `change` gives anew."""
    groups = _readable(host, parts, timeline) or ()
    moved = tuple(_moved(group, change) for group in groups)
    if moved != groups:
        host.write_groups(parts, timeline, moved)


def drop_places(host: Host, parts: Parts, timeline: Element, places: Container[Place]) -> None:
    """Forget links of clips that are there no more: pairs that name one of these places and nothing else."""
    groups = host.read_groups(parts, timeline) or ()

    def is_gone(group: Grouped) -> bool:
        members = group.members if isinstance(group, Group) and group.pair else ()
        return bool(members) and all(isinstance(one, Member) and one.place in places for one in members)

    others = tuple(group for group in groups if not is_gone(group))
    if others != groups:
        host.write_groups(parts, timeline, others)


def drop_links(host: Host, parts: Parts, timeline: Element, track: int) -> None:
    """Forget the clips of a track of ours that was emptied, and groups left with one clip or none."""
    groups = host.read_groups(parts, timeline) or ()
    others = _without(groups, track)
    if others != groups:
        host.write_groups(parts, timeline, others)


def _within(groups: Iterable[Grouped]) -> Iterator[Grouped]:
    """All of them and all that is within."""
    for group in groups:
        yield group
        if isinstance(group, Group):
            yield from _within(group.members)


def _moved(group: Grouped, change: Mover) -> Grouped:
    """The very same where nothing moves: a film has thousands."""
    if isinstance(group, Group):
        members = tuple(_moved(member, change) for member in group.members)
        return group if members == group.members else replace(group, members=members)
    if isinstance(group, Kept) or (place := change(*group.place)) == group.place:
        return group
    return Member(*place, group.stored)


def _without(groups: tuple[Grouped, ...], track: int) -> tuple[Grouped, ...]:
    result: list[Grouped] = []
    for group in groups:
        if isinstance(group, Group):
            members = _without(group.members, track)
            if members == group.members:
                result.append(group)
            elif len(members) > 1:
                result.append(replace(group, members=members))
        elif isinstance(group, Kept) or group.track != track:
            result.append(group)
    return tuple(result)


def _readable(host: Host, parts: Parts, timeline: Element) -> tuple[Grouped, ...] | None:
    """The groups; None where they cannot be read, which the document remembers."""
    groups = host.read_groups(parts, timeline)
    if groups is None:
        parts.document.unmoved[f"{parts.document.path}: its groups of clips"] = _UNREAD
    return groups
