"""The edits of a saved plan, read back; it may have been changed by hand."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

import cattrs

from mltassist.errors import PlanError
from mltassist.timeline.bounds import shown
from mltassist.timeline.edits import EDITS, Edit
from mltassist.timeline.structured import converter, mistakes

FORMAT = "mltassist-plan"
VERSION = 1
_KINDS = {kind.__name__: kind for kind in EDITS}


def read_parts(text: str, name: str, lists: Mapping[str, type]) -> tuple[tuple[Edit, ...], dict[str, Any]]:
    """The edits of a saved plan of this version and all else in it. Raises PlanError naming every mistake.

    A mistake in an edit is told by its place in the list, counted from 1, its kind, and the field.
    lists: kinds of the rows of its other lists, by their names; all but those may be missing.
    """
    data = _plan(text, name)
    edits, wrong = _edits(data)
    reader, found = converter(), dict[str, Any]()
    for key, (kind, called) in _FIELDS.items():
        found[key] = data.get(key, kind())
        if type(found[key]) is not kind:
            wrong.append(f"{key}: {shown(found[key])} should be {called}")
    for key, row in lists.items():
        try:
            found[key] = reader.structure(data.get(key, []), tuple[row, ...])  # type: ignore[valid-type]
        except cattrs.BaseValidationError as error:
            wrong += [f"{key}{mistake.told}" for mistake in mistakes(error)]
        except ValueError as error:
            wrong.append(f"{key}: {error}")
    rate = found["rate"]
    if not (isinstance(rate, list) and len(rate) == 2 and all(type(n) is int and n > 0 for n in rate)):
        wrong.append(f"rate: {shown(rate)} should be two whole numbers above 0")
    known = {"format", "version", "edits", "output", *_FIELDS, *lists}
    wrong += [f"unknown key {key}" for key in data if key not in known]
    if wrong:
        raise PlanError(name, wrong)
    return edits, found


_FIELDS: Mapping[str, tuple[type, str]] = {
    "command": (str, "text in quotes"),
    "project": (str, "text in quotes"),
    "state": (str, "text in quotes"),
    "rate": (list, "a list"),
    "figures": (dict, "a table"),
    "recipe": (dict, "a table"),
}


def _plan(text: str, name: str) -> dict[str, Any]:
    """The data of a plan of this version with a list of edits."""
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        why = str(error) if isinstance(error, ValueError) else "it is nested too deeply"
        raise PlanError(name, [f"is not a plan ({why})"]) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise PlanError(name, ["is not a plan"])
    if data.get("version") != VERSION:
        raise PlanError(name, [f"is not a plan of version {VERSION}"])
    if not isinstance(data.get("edits"), list):
        raise PlanError(name, ["is a plan without a list of edits"])
    return data


def _edits(data: dict[str, Any]) -> tuple[tuple[Edit, ...], list[str]]:
    """The edits that can be read, and what is wrong with the others."""
    reader, edits, wrong = converter(), list[Edit](), list[str]()
    for number, item in enumerate(data["edits"], 1):
        read = list(_read(reader, item))
        edits += [edit for edit in read if not isinstance(edit, str)]
        wrong += [f"edit {number}{told}" for told in read if isinstance(told, str)]
    return tuple(edits), wrong


def _read(reader: cattrs.Converter, item: object) -> Iterator[Edit | str]:
    """The edit, or all that is wrong with it, as it goes on after the edit's number."""
    if not isinstance(item, dict):
        yield f" is {shown(item)}, not an object"
        return
    kind = _KINDS.get(str(item.get("edit")))
    if kind is None:
        yield f": there is no kind of edit called {shown(item.get('edit'))}"
        return
    try:
        yield reader.structure({key: value for key, value in item.items() if key != "edit"}, kind)
    except cattrs.BaseValidationError as error:
        yield from (f" ({kind.__name__}): {mistake.told}" for mistake in mistakes(error))
