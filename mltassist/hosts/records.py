"""The note we leave in a document of what we laid, so that the next run can tell what is still ours.

Hosts drop properties they do not know from some parts and keep them on others; each host keeps this one
text where it survives. It names clips by file name, so that a project may move to another folder.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import Any, TypeVar

from lxml.etree import _Element as Element

from mltassist.document import keyframes, properties
from mltassist.document.values import json_value, number
from mltassist.errors import TimeError
from mltassist.hosts.base import Host
from mltassist.hosts.levels import is_ours
from mltassist.hosts.parts import ROLE, Parts
from mltassist.timeline.changes import Change, EditPoint, Nudged, Opened, RunOn
from mltassist.timeline.model import Laid

_VERSION = 1
Curve = tuple[tuple[int, float], ...]
Kind = TypeVar("Kind")


@dataclass(frozen=True, slots=True)
class Record:
    """Clips on our tracks and the keys of our level curves, fades at joins and gains, as we left them.

    changes: of the film itself, in the order in which they were made.
    """

    laid: frozenset[Laid] = frozenset()
    curves: frozenset[Curve] = frozenset()
    fades: frozenset[Curve] = frozenset()
    matches: frozenset[Curve] = frozenset()
    changes: tuple[Change, ...] = ()
    known: bool = field(default=True)
    """False when the document holds no record at all."""


def read_record(text: str | None) -> Record:
    """The record from its text; an empty one where there is none or it cannot be read."""
    data: Any = json_value(text)
    try:
        laid = frozenset(
            Laid(_of(str, role), _of(int, start), _of(int, length), _of(str, file), _of(int, source_in))
            for role, start, length, file, source_in in data["laid"]
        )
        curves, fades, matches = (_curves(data.get(name, ())) for name in ("curves", "fades", "matches"))
        return Record(laid, curves, fades, matches, tuple(map(_change, data.get("changes", ()))))
    except (ValueError, KeyError, TypeError, AttributeError):
        return Record(known=False)


def _curves(rows: Iterable[Any]) -> frozenset[Curve]:
    return frozenset(tuple((_of(int, frame), float(gain)) for frame, gain in curve) for curve in rows)


def _change(row: Any) -> Change:  # noqa: ANN401  (JSON of whoever wrote it)
    if "pause" in row:
        at, length = (_of(int, value) for value in row["pause"])
        sides, splits = (tuple(map(_side, row.get(name, ()))) for name in ("sides", "splits"))
        runs = tuple(RunOn(_of(str, f), _of(int, last), _of(int, n)) for f, last, n in row.get("runs", ()))
        return Opened(at, length, sides, splits, runs)
    before_by, after_by = (_of(int, value) for value in row["join"])
    return Nudged(before_by, after_by, tuple(map(_side, row["sides"])))


def _side(row: Any) -> EditPoint:  # noqa: ANN401
    file, last, next_file, first = row
    return EditPoint(_of(str, file), _of(int, last), _of(str, next_file), _of(int, first))


def _written(change: Change) -> dict[str, Any]:
    sides = [list(side) for side in change.sides]
    if isinstance(change, Nudged):
        return {"join": [change.before_by, change.after_by], "sides": sides}
    splits, runs = ([list(one) for one in rows] for rows in (change.splits, change.runs))
    row = {"pause": [change.at, change.length], "sides": sides, "splits": splits, "runs": runs}
    return {name: value for name, value in row.items() if value}


def _of(kind: type[Kind], value: object) -> Kind:
    if type(value) is not kind:
        raise TypeError(value)
    return value


def stored_record(host: Host, parts: Parts, timeline: Element) -> Record:
    """The record that a document holds."""
    home = host.record_home(parts, timeline)
    return read_record(None if home is None else properties.get(home, host.record))


def store_record(host: Host, parts: Parts, timeline: Element, record: Record) -> None:
    """Leave the record in the document; the same record always gives the same text."""
    home = host.record_home(parts, timeline)
    laid = [[row.role, row.start, row.length, row.file, row.source_in] for row in sorted(record.laid)]
    data: dict[str, Any] = {"version": _VERSION, "laid": laid}
    data["curves"] = [[list(key) for key in curve] for curve in sorted(record.curves)]
    for name, found in (("fades", record.fades), ("matches", record.matches)):
        if found:
            data[name] = [[list(key) for key in curve] for curve in sorted(found)]
    if record.changes:
        data["changes"] = [_written(change) for change in record.changes]
    if home is not None:
        properties.put(home, host.record, json.dumps(data, ensure_ascii=False))


def file_name(key: str) -> str:
    """What a record calls a source."""
    return PurePath(key).name


def our_curves(parts: Parts, record: Record, role: str) -> Iterator[tuple[Element, Curve]]:
    """Volume filters that are ours, "duck", "join" or "match": marked so, or with the very keys we left."""
    known = {"join": record.fades, "match": record.matches, "fade": frozenset[Curve]()}.get(
        role, record.curves
    )
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
        keys = [(key.frame, number(key.value)) for key in keyframes.parse(level, parts.rate)]
    except TimeError:
        return ()
    curve = tuple((frame, float(gain)) for frame, gain in keys if gain is not None)
    return curve if len(curve) == len(keys) else ()
