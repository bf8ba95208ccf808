"""Which parts play which: refused where one plays itself, or so many that nothing could walk them."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter

from lxml import etree

from mltassist.document.load import Document
from mltassist.errors import HostileDocument, ProjectError
from mltassist.hosts.parts import HOLDERS, played_in

MOST_WAYS = 1_000_000
"""Ways that lead into parts: two tracks that play one part, in each of twenty levels, are so many."""
DEEPEST = 64
"""Parts within parts; edits within edits are a handful deep."""


def check_nesting(document: Document) -> None:
    """Raise ProjectError where a part plays itself, HostileDocument where parts nest without measure."""
    holders: dict[str, etree._Element] = {}
    for element in document.root.iterchildren(*HOLDERS):
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
