"""The edits of a saved plan, read back; it may have been changed by hand."""

from __future__ import annotations

import json
from collections.abc import Iterator

import cattrs

from mltassist.errors import ProjectError
from mltassist.timeline.bounds import shown
from mltassist.timeline.edits import EDITS, Edit
from mltassist.timeline.structured import converter, mistakes

FORMAT = "mltassist-plan"
VERSION = 1
_AGAIN = "make it again with --plan"
_KINDS = {kind.__name__: kind for kind in EDITS}


def read_edits(text: str, name: str = "plan") -> tuple[Edit, ...]:
    """The edits of a saved plan. Raises ProjectError when it is not one that this version knows.

    Its error names every mistake: the edit by its place in the list, counted from 1, with its kind, and the
    field.
    """
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        why = str(error) if isinstance(error, ValueError) else "it is nested too deeply"
        raise ProjectError(name, f"is not a plan ({why})", _AGAIN) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise ProjectError(name, "is not a plan", _AGAIN)
    if data.get("version") != VERSION:
        raise ProjectError(name, f"is not a plan of version {VERSION}", _AGAIN)
    if not isinstance(data.get("edits"), list):
        raise ProjectError(name, "is a plan without a list of edits", _AGAIN)
    reader, edits, wrong = converter(), [], []
    for number, item in enumerate(data["edits"], 1):
        read = list(_read(reader, item))
        edits += [edit for edit in read if not isinstance(edit, str)]
        wrong += [f"edit {number}{told}" for told in read if isinstance(told, str)]
    if wrong:
        raise ProjectError(name, "; ".join(wrong), f"mend it, or {_AGAIN}")
    return tuple(edits)


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
