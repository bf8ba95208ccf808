"""Groups of clips as Kdenlive stores them in JSON: leaves that name a clip by track and start."""

from __future__ import annotations

from typing import Any

from mltassist.document.values import whole
from mltassist.hosts.listed import json_list
from mltassist.hosts.stored import Group, Grouped, Kept, Member

_PAIR = "AVSplit"


def read_json_groups(text: str | None) -> tuple[Grouped, ...] | None:
    """Groups from their text; None where it is no list."""
    items = json_list(text)
    return None if items is None else tuple(_read(item) for item in items)


def _read(item: object) -> Grouped:
    """The document counts tracks from 0 above the black one."""
    if not isinstance(item, dict):
        return Kept(item)
    if item.get("type") != "Leaf":
        children = item.get("children")
        if not isinstance(children, list):
            return Kept(item)
        return Group(tuple(_read(child) for child in children), item.get("type") == _PAIR, item)
    track, start, *_ = (*(whole(field) for field in _fields(item)), None, None)
    return Kept(item) if track is None or start is None else Member(track + 1, start, item)


def written_groups(groups: tuple[Grouped, ...], *, fields: int) -> list[Any]:
    """Groups as JSON; new leaves have two or three fields by generation."""
    return [_written(group, fields) for group in groups]


def _written(group: Grouped, fields: int) -> object:
    if isinstance(group, Kept):
        return group.stored
    if isinstance(group, Group):
        children = written_groups(group.members, fields=fields)
        new = {"children": children, "type": _PAIR}
        return new if group.stored is None else {**group.stored, "children": children}
    place = [str(group.track - 1), str(group.start)]
    if group.stored is None:
        return {"data": ":".join([*place, "-1"][:fields]), "leaf": "clip", "type": "Leaf"}
    if _read(group.stored) == group:
        return group.stored
    return {**group.stored, "data": ":".join([*place, *_fields(group.stored)[2:]])}


def _fields(leaf: dict[str, Any]) -> list[str]:
    return str(leaf.get("data", "")).split(":")
