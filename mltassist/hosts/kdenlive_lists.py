"""What Kdenlive stores with a timeline: numbers, and JSON lists such as markers and groups of clips."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.values import whole
from mltassist.hosts.kdenlive_shared import DOCUMENT, bin_of
from mltassist.hosts.listed import json_list
from mltassist.hosts.stored import Group, Grouped, Kept, Member

_SEQUENCE = "kdenlive:sequenceproperties."
_PAIR = "AVSplit"


@dataclass(frozen=True, slots=True)
class TimelineLists:
    """The part that holds a timeline's lists and numbers, and the prefix of their names."""

    part: Element
    prefix: str

    def text(self, name: str) -> str | None:
        """A stored value as it stands."""
        return properties.get(self.part, self.prefix + name)

    def put(self, name: str, value: str) -> None:
        """Store a value."""
        properties.put(self.part, self.prefix + name, value)

    def put_items(self, name: str, items: list[Any]) -> None:
        """Store a list as the host indents it."""
        self.put(name, json.dumps(items, ensure_ascii=False, indent=4) + "\n")

    def change_number(self, name: str, change: Callable[[int], int]) -> None:
        """Change a stored whole number; one that is missing or negative (none) stays."""
        number = whole(self.text(name))
        if number is not None and number >= 0 and (value := change(number)) != number:
            self.put(name, str(value))


def lists_of(root: Element, timeline: Element) -> TimelineLists:
    """A sequence stores its own lists; before there were sequences the document did."""
    if properties.get(timeline, "kdenlive:uuid") is None:
        listing = bin_of(root)
        if listing is not None:
            return TimelineLists(listing, DOCUMENT)
    return TimelineLists(timeline, _SEQUENCE)


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
    fields = _fields(item)
    track, start = whole(fields[0]), whole(fields[1]) if len(fields) > 1 else None
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
    place = [group.track - 1, group.start]
    if group.stored is None:
        return {"data": ":".join(map(str, [*place, -1][:fields])), "leaf": "clip", "type": "Leaf"}
    before = _fields(group.stored)
    if [int(field) for field in before[:2]] == place:
        return group.stored
    return {**group.stored, "data": ":".join([*map(str, place), *before[2:]])}


def _fields(leaf: dict[str, Any]) -> list[str]:
    return str(leaf.get("data", "")).split(":")
