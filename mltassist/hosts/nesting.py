"""Which parts play which: refused where one plays itself, or so many that nothing could walk them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from itertools import chain

from lxml.etree import _Element as Element

from mltassist.document.load import Document
from mltassist.errors import HostileDocument, ProjectError

TRACKED = ("tractor", "multitrack")
HOLDERS = ("playlist", *TRACKED)
"""Parts that play others."""
MOST_WAYS = 1_000_000
"""Ways that lead into parts: two tracks that play one part, in each of twenty levels, are so many."""
DEEPEST = 64
"""Parts within parts; edits within edits are a handful deep."""


def played_in(holder: Element) -> Iterator[str]:
    """Ids of what the entries of a playlist play, or the tracks of a tractor; each as often as named."""
    named = holder.iterchildren("entry") if holder.tag == "playlist" else holder.iter("track")
    return (name for one in named if (name := one.get("producer")) is not None)


def all_played(root: Element) -> Counter[str]:
    """How often each part of a document is named by what plays it."""
    return Counter(chain.from_iterable(map(played_in, root.iterchildren(*HOLDERS))))


def check_nesting(document: Document, kinds: tuple[str, ...] = HOLDERS) -> None:
    """Raise ProjectError where a part plays itself, HostileDocument where parts nest without measure.

    kinds: tags of the parts that are looked into; a film has few tracks and thousands of entries.
    """
    holders: dict[str, Element] = {}
    for element in document.root.iterchildren(*kinds):
        holders.setdefault(element.get("id", ""), element)
    inside = {
        name: [key for key in played_in(element) if key in holders] for name, element in holders.items()
    }
    try:
        order = list(TopologicalSorter(inside).static_order())
    except CycleError as error:
        name = str(error.args[1][0])
        raise ProjectError(
            document.path, f"the part {name[:60]!r} plays itself", "restore a backup from before it did"
        ) from None
    ways: dict[str, int] = {}
    depths: dict[str, int] = {}
    for name in order:  # what is played comes before who plays it
        ways[name] = min(1 + sum(ways[key] for key in inside[name]), MOST_WAYS + 1)
        depths[name] = 1 + max((depths[key] for key in inside[name]), default=0)
    if max(ways.values(), default=0) > MOST_WAYS or max(depths.values(), default=0) > DEEPEST:
        raise HostileDocument(
            document.path, "parts play parts without measure", "no real project is nested so"
        )
