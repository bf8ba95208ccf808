"""Elements put in, and taken out, so that the file keeps its look."""

from __future__ import annotations

from lxml.etree import _Element as Element


def insert_before(anchor: Element, new: Element) -> None:
    """Put `new` before its future sibling `anchor`, on a line of its own like it."""
    parent, earlier = _parent(anchor), anchor.getprevious()
    new.tail = earlier.tail if earlier is not None else parent.text
    anchor.addprevious(new)


def insert_after(anchor: Element, new: Element) -> None:
    """Put `new` after its future sibling `anchor`, on a line of its own like it."""
    parent, earlier, later = _parent(anchor), anchor.getprevious(), anchor.getnext()
    between = earlier.tail if earlier is not None else parent.text
    new.tail, anchor.tail = anchor.tail, (anchor.tail if later is not None else between)
    tail = new.tail
    anchor.addnext(new)
    new.tail = tail


def append(parent: Element, new: Element) -> None:
    """Put `new` last in `parent`, on a line of its own."""
    if len(parent):
        insert_after(parent[-1], new)
    else:
        margin = _margin(parent)
        parent.text, new.tail = margin + " ", margin
        parent.append(new)


def insert_after_properties(parent: Element, new: Element) -> None:
    """Put `new` behind the properties of `parent`, before anything else it holds."""
    anchor = next((child for child in parent if child.tag not in ("property", "properties")), None)
    if anchor is not None:
        insert_before(anchor, new)
    else:
        append(parent, new)


def detach(element: Element) -> None:
    """Take an element out; the white space around it closes."""
    parent, earlier = _parent(element), element.getprevious()
    if element.getnext() is None and earlier is not None:
        earlier.tail = element.tail
    parent.remove(element)


def _parent(element: Element) -> Element:
    parent = element.getparent()
    if parent is None:
        raise ValueError(f"<{element.tag}> is not part of a document")
    return parent


def _margin(element: Element) -> str:
    """The line break and indentation that `element` itself stands behind."""
    parent, earlier = element.getparent(), element.getprevious()
    text = earlier.tail if earlier is not None else (parent.text if parent is not None else None)
    return text if text is not None and not text.strip() and "\n" in text else "\n"
