"""The note we leave in a document of what we laid, so that the next run can tell what is still ours.

Hosts drop properties they do not know from some parts and keep them on others; each host keeps this one
text where it survives. It names clips by file name, so that a project may move to another folder.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import PurePath

from lxml.etree import _Element as Element

from mltassist.document import keyframes, properties
from mltassist.errors import TimeError
from mltassist.hosts.base import Host
from mltassist.hosts.levels import is_ours
from mltassist.hosts.parts import ROLE, Parts
from mltassist.timeline.model import Laid

VERSION = 1
Curve = tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class Record:
    """Clips on our tracks and the keys of our level curves and the fades at joins, as we left them."""

    laid: frozenset[Laid] = frozenset()
    curves: frozenset[Curve] = frozenset()
    fades: frozenset[Curve] = frozenset()
    known: bool = field(default=True)
    """False when the document holds no record at all."""


def read_record(text: str | None) -> Record:
    """The record from its text; an empty one where there is none or it cannot be read."""
    try:
        data = json.loads(text or "")
        laid = frozenset(Laid(*row) for row in data["laid"])
        curves, fades = (
            frozenset(tuple((int(f), float(g)) for f, g in curve) for curve in data.get(name, ()))
            for name in ("curves", "fades")
        )
    except (ValueError, KeyError, TypeError):
        return Record(known=False)
    return Record(laid, curves, fades)


def stored_record(host: Host, parts: Parts, timeline: Element) -> Record:
    """The record that a document holds."""
    home = host.record_home(parts, timeline)
    return read_record(None if home is None else properties.get(home, host.record))


def store_record(host: Host, parts: Parts, timeline: Element, record: Record) -> None:
    """Leave the record in the document."""
    home = host.record_home(parts, timeline)
    if home is not None:
        properties.put(home, host.record, record_text(record))


def record_text(record: Record) -> str:
    """The text of a record; the same record always gives the same text."""
    laid = [[row.role, row.start, row.length, row.file, row.source_in] for row in sorted(record.laid)]
    data = {"version": VERSION, "laid": laid}
    data["curves"] = [[list(key) for key in curve] for curve in sorted(record.curves)]
    if record.fades:
        data["fades"] = [[list(key) for key in curve] for curve in sorted(record.fades)]
    return json.dumps(data, ensure_ascii=False)


def file_name(key: str) -> str:
    """What a record calls a source."""
    return PurePath(key).name


def our_curves(parts: Parts, record: Record, role: str) -> Iterator[tuple[Element, Curve]]:
    """Volume filters that are ours, "duck" or "join": marked so, or with the very keys we left."""
    known = record.fades if role == "join" else record.curves
    for element in parts.root.iter("filter"):
        if properties.get(element, "mlt_service") != "volume":
            continue
        marked = is_ours(element, role)
        if not marked and (not known or properties.get(element, ROLE)):
            continue
        curve = _curve(parts, properties.get(element, "level") or "")
        if marked or curve in known:
            yield element, curve


def _curve(parts: Parts, level: str) -> Curve:
    try:
        keys = keyframes.parse(level, parts.rate)
        return tuple((key.frame, float(key.value.replace(",", "."))) for key in keys)
    except (TimeError, ValueError):
        return ()
