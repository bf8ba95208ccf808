"""Where a Kdenlive document keeps its bin's folders, and JSON lists such as guides and groups."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.values import whole
from mltassist.hosts.bins import BINS

SEQUENCE = "kdenlive:sequenceproperties."
DOCUMENT = "kdenlive:docproperties."


def bin_of(root: Element) -> Element | None:
    """The playlist that carries the bin and the document's properties."""
    return next(
        (
            part
            for part in root.iterchildren("playlist")
            if part.get("id") in BINS and properties.get(part, DOCUMENT + "version") is not None
        ),
        None,
    )


def folder_of(root: Element, number: str) -> str:
    """Names of a folder and those above it, joined by "/"; "" at the top."""
    listing = bin_of(root)
    if listing is None:
        return ""
    above: dict[str, tuple[str, str]] = {}
    for name, value in properties.all_of(listing).items():
        if name.startswith("kdenlive:folder."):
            parent, _, child = name.removeprefix("kdenlive:folder.").rpartition(".")
            above[child] = (parent, value)
    names: list[str] = []
    while number in above and len(names) < len(above):
        number, name = above[number]
        names.append(name)
    return "/".join(reversed(names))


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
    return TimelineLists(timeline, SEQUENCE)
