"""``<property name="...">`` children of an element, changed without disturbing the file's look.

Only direct children count. Where a name occurs twice the last one holds, as in the engine.
"""

from __future__ import annotations

from lxml import etree


def get(element: etree._Element, name: str, default: str | None = None) -> str | None:
    """The value of property `name`, or `default`; an empty property gives ''."""
    found = _last(element, name)
    return default if found is None else _value(found)


def all_of(element: etree._Element) -> dict[str, str]:
    """All properties by name, in document order."""
    return {child.get("name", ""): _value(child) for child in element.iterchildren("property")}


def put(element: etree._Element, name: str, value: str) -> None:
    """Set property `name`: in its place if it exists, else behind the last property."""
    found = _last(element, name)
    if found is None:
        found = _append(element)
        found.set("name", name)
    if "value" in found.attrib:
        found.set("value", value)
    else:
        for child in list(found):  # a comment inside the value would stand for a part of it
            found.remove(child)
        found.text = value


def drop(element: etree._Element, name: str) -> bool:
    """Remove property `name`; False when there was none."""
    dropped = [child for child in element.findall("property") if child.get("name") == name]
    for child in dropped:
        before = child.getprevious()
        if child.getnext() is None:  # the closing tag's indentation hangs on the last child
            if before is not None:
                before.tail = child.tail
            else:
                element.text = None
        element.remove(child)
    return bool(dropped)


def _last(element: etree._Element, name: str) -> etree._Element | None:
    for child in element.iterchildren("property", reversed=True):
        if child.get("name") == name:
            return child
    return None


def _value(child: etree._Element) -> str:
    value = child.get("value")
    if value is None and not len(child):
        return child.text or ""
    return "".join(str(part) for part in child.itertext("property")) if value is None else value


def _append(element: etree._Element) -> etree._Element:
    """A new property child behind the last one, indented like its neighbours."""
    new = etree.Element("property")
    existing = element.findall("property")
    if existing:
        last = existing[-1]
        new.tail, last.tail = last.tail, _space_before(last)
        element.insert(element.index(last) + 1, new)
    elif len(element):
        new.tail = element.text
        element.insert(0, new)
    else:
        outer = _space_before(element)
        if outer is not None and "\n" in outer:
            parent = element.getparent()
            above = (_space_before(parent) if parent is not None else None) or "\n"
            element.text = outer + (outer[len(above) :] if outer.startswith(above) else "") or None
            if element.text == outer:
                element.text = outer + " "
            new.tail = outer
        element.append(new)
    return new


def _space_before(element: etree._Element) -> str | None:
    """The blank text between the tag before and `element`."""
    before, parent = element.getprevious(), element.getparent()
    text = before.tail if before is not None else parent.text if parent is not None else None
    return text if text is not None and not text.strip() else None
