"""TOML text into frozen dataclasses, with every mistake told in words and with its line."""

from __future__ import annotations

import tomllib
from typing import Any, TypeVar

import cattrs

from mltassist.errors import MltAssistError, RecipeError
from mltassist.recipe.lines import line_of
from mltassist.timeline.elements import Element
from mltassist.timeline.structured import Mistake, converter, mistakes

Whole = TypeVar("Whole")


def structured(text: str, name: str, kind: type[Whole], failure: type[MltAssistError] = RecipeError) -> Whole:
    """The TOML text as one `kind`. Raises `failure` that names every mistake; `name` stands in it."""
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise failure(f"{name}: not TOML: {error}") from None
    reader = converter()
    reader.register_structure_hook(Element, _to_element)
    try:
        return reader.structure(table, kind)
    except cattrs.BaseValidationError as error:
        located = sorted({(_line(mistake, table, text), mistake.told) for mistake in mistakes(error)})
        told = (f"line {line}: {what}" if line else what for line, what in located)
        raise failure(f"{name}: " + "; ".join(told)) from None


def _line(mistake: Mistake, table: Any, text: str) -> int:  # noqa: ANN401
    """The line a mistake stands on, that of the first of its keys that is written; 0 where none is."""
    for step in mistake.path:
        table = table[step] if isinstance(step, int) else table.get(step, {})
    places = [(*mistake.path, key) for key in mistake.keys if key in table] or [mistake.path]
    return min(line_of(text, place) for place in places)


def _to_element(value: Any, _: type) -> Element:  # noqa: ANN401
    try:
        return Element(value)
    except ValueError:
        raise ValueError(f"{value!r} is none of {', '.join(Element)}") from None
