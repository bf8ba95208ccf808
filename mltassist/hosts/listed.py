"""Markers that a document holds as a JSON list."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mltassist.document.values import json_value
from mltassist.hosts.stored import Kept, StoredMarker


def json_list(text: str | None) -> list[Any] | None:
    """The items of a JSON list, none of a missing or empty text; None for anything else."""
    if not (text or "").strip():
        return []
    found = json_value(text)
    return found if isinstance(found, list) else None


def read_list(
    text: str | None, at: str, words: str, categories: Mapping[int, str] | None = None
) -> tuple[StoredMarker | Kept, ...] | None:
    """Markers of a JSON list by the names of their fields; None where the text is no list."""
    items = json_list(text)
    return None if items is None else tuple(_marker(item, at, words, categories or {}) for item in items)


def _marker(item: object, at: str, words: str, categories: Mapping[int, str]) -> StoredMarker | Kept:
    if not isinstance(item, dict) or type(item.get(at)) is not int:  # `true` is an int to isinstance
        return Kept(item)
    kind = item.get("type")
    category = categories.get(kind, "") if isinstance(kind, int) else ""
    return StoredMarker(item[at], str(item.get(words, "")), category=category, stored=item)


def written_list(
    markers: tuple[StoredMarker | Kept, ...], at: str, words: str, new: Mapping[str, Any] | None = None
) -> list[Any]:
    """The list of these markers; `new`: further fields of one that is new."""
    return [_item(marker, at, words, new or {}) for marker in markers]


def _item(marker: StoredMarker | Kept, at: str, words: str, new: Mapping[str, Any]) -> object:
    if isinstance(marker, Kept):
        return marker.stored
    if marker.stored is None:
        return dict(sorted({words: marker.text, at: marker.at, **new}.items()))
    return marker.stored if marker.stored[at] == marker.at else {**marker.stored, at: marker.at}
