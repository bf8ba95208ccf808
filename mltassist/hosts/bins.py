"""The bin as a playlist, and the words in it."""

from __future__ import annotations

import re
from collections.abc import Iterator

from lxml.etree import _Element as Element

from mltassist.hosts.parts import PRODUCERS, Parts

BINS = ("main_bin", "main bin")
"""Ids of the playlist that is the bin."""


def bin_listing(parts: Parts) -> Element | None:
    """The playlist that is the bin."""
    return next((found for name in BINS if (found := parts.get(name)) is not None), None)


def listed(parts: Parts, listing: Element | None) -> Iterator[tuple[Element, Element]]:
    """Producers and chains that a bin lists, with their entries.

    Sequences are no shots; the blanks that old documents keep for deleted clips are passed over.
    """
    for entry in listing.iterchildren("entry") if listing is not None else ():
        part = parts.get(entry.get("producer"))
        if part is not None and part.tag in PRODUCERS:
            yield part, entry


def tags_in(text: str | None) -> tuple[str, ...]:
    """Tags from a list with semicolons, commas or line ends."""
    return tuple(word.strip() for word in re.split(r"[;,\n]", text or "") if word.strip())
