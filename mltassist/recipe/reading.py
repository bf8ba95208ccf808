"""TOML text into frozen dataclasses, with every mistake told in words and with its line."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import cattrs

from mltassist.errors import MltAssistError, RecipeError
from mltassist.recipe.lines import line_of
from mltassist.timeline.elements import Element
from mltassist.timeline.structured import Mistake, converter, mistakes

MOST_MISTAKES = 50
"""So many are told at once: to find the line of each, the text is looked through."""
Whole = TypeVar("Whole")


@dataclass(frozen=True, slots=True)
class RecipeLayer:
    """One TOML text as a table; `name` stands in the errors."""

    name: str
    text: str
    table: dict[str, Any]


def layer_of(text: str, name: str, failure: type[MltAssistError] = RecipeError) -> RecipeLayer:
    """The table of a TOML text. Raises `failure` where it is none."""
    try:
        return RecipeLayer(name, text, tomllib.loads(text))
    except (ValueError, RecursionError) as error:
        raise failure(f"{name}: not TOML: {error}") from None


def structured(text: str, name: str, kind: type[Whole], failure: type[MltAssistError] = RecipeError) -> Whole:
    """The TOML text as one `kind`. Raises `failure` that names every mistake; `name` stands in it."""
    return laid_over([layer_of(text, name, failure)], kind, failure)


def laid_over(
    layers: Sequence[RecipeLayer], kind: type[Whole], failure: type[MltAssistError] = RecipeError
) -> Whole:
    """Several tables as one `kind`: keys of later ones overrule; a list takes the place of a whole list.

    Raises `failure` that names every mistake, each with the text it comes from.
    """
    table: dict[str, Any] = {}
    for layer in layers:
        table = _merged(table, layer.table)
    reader = converter()
    reader.register_structure_hook(Element, _to_element)
    try:
        return reader.structure(table, kind)
    except cattrs.BaseValidationError as error:
        every = list(mistakes(error))
        located = sorted({(*_place(mistake, layers), mistake.told) for mistake in every[:MOST_MISTAKES]})
        told: dict[int, list[str]] = {}
        for number, line, what in located:
            told.setdefault(number, []).append(f"line {line}: {what}" if line else what)
        words = [f"{layers[n].name}: {'; '.join(some)}" for n, some in told.items()]
        if (more := len(every) - MOST_MISTAKES) > 0:
            words.append(f"and {more} mistakes more")
        raise failure("; ".join(words)) from None


def _merged(below: dict[str, Any], above: dict[str, Any]) -> dict[str, Any]:
    made = dict(below)
    for key, value in above.items():
        under = made.get(key)
        made[key] = _merged(under, value) if isinstance(under, dict) and isinstance(value, dict) else value
    return made


def _place(mistake: Mistake, layers: Sequence[RecipeLayer]) -> tuple[int, int]:
    """The layer that a mistake comes from, the last that has its key, and the line there; 0 for none."""
    for by_key in (True, False):
        for number in reversed(range(len(layers))):
            if line := _line(mistake, layers[number], by_key=by_key):
                return number, line
    return len(layers) - 1, 0


def _line(mistake: Mistake, layer: RecipeLayer, *, by_key: bool) -> int:
    """The line a mistake stands on, that of the first of its keys that is written; 0 where none is.

    by_key: where it speaks of keys, one of them has to be there; else the line of what holds them will do.
    """
    table: Any = layer.table
    try:
        for step in mistake.path:
            table = table[step] if isinstance(step, int) else table.get(step, {})
    except (IndexError, KeyError, TypeError, AttributeError):  # another layer's
        return 0
    written = isinstance(table, dict)
    places = [(*mistake.path, key) for key in mistake.keys if written and key in table]
    if not places:
        if by_key and mistake.keys:
            return 0
        places = [mistake.path]
    return min(line_of(layer.text, place) for place in places)


def _to_element(value: Any, _: type) -> Element:  # noqa: ANN401
    try:
        return Element(value)
    except ValueError:
        raise ValueError(f"{value!r} is none of {', '.join(Element)}") from None
