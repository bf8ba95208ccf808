"""TOML text into frozen dataclasses, with every mistake told in words and with its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable
from fractions import Fraction
from math import isfinite
from typing import Any, Literal, TypeVar, get_args, get_origin

import cattrs
from cattrs.gen import make_dict_structure_fn

from mltassist.errors import RecipeError
from mltassist.recipe.lines import line_of, steps_of
from mltassist.timeline.elements import Element

Whole = TypeVar("Whole")


def structured(text: str, name: str, kind: type[Whole], parts: Iterable[type]) -> Whole:
    """The TOML text as one `kind`; `parts` are all dataclasses in it, the innermost first.

    Raises RecipeError that names every mistake; `name` stands in it.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RecipeError(f"{name}: not TOML: {error}") from None
    try:
        return _converter(parts).structure(table, kind)
    except cattrs.BaseValidationError as error:
        mistakes = cattrs.transform_error(error, path="", format_exception=_plainly)
        located = sorted({place for mistake in mistakes for place in _located(mistake, text)})
        told = (f"line {line}: {what}" if line else what for line, what in located)
        raise RecipeError(f"{name}: " + "; ".join(told)) from None


def _converter(parts: Iterable[type]) -> cattrs.Converter:
    converter = cattrs.Converter(forbid_extra_keys=True)
    converter.register_structure_hook(Fraction, _to_fraction)
    converter.register_structure_hook(bool, lambda value, _: _typed(value, bool, "true or false"))
    converter.register_structure_hook(int, _to_count)
    converter.register_structure_hook(float, _to_level)
    converter.register_structure_hook(str, lambda value, _: _typed(value, str, "text in quotes"))
    converter.register_structure_hook(Element, _to_element)
    converter.register_structure_hook_func(_is_choice, _to_choice)
    converter.register_structure_hook_func(lambda kind: kind == tuple[str, ...], _to_words)
    for part in parts:
        hook: Any = make_dict_structure_fn(part, converter, _cattrs_forbid_extra_keys=True)
        converter.register_structure_hook(part, _table(hook))
    return converter


def _plainly(error: BaseException, _: type | None) -> str:
    """One mistake in words. An unknown key is told with the keys that were found."""
    if isinstance(error, cattrs.ForbiddenExtraKeysError):
        return f"extra fields found ({', '.join(sorted(error.extra_fields))})"
    if isinstance(error, KeyError):
        return f"{error.args[0]} is missing"
    return str(error) or type(error).__name__


def _is_choice(kind: Any) -> bool:  # noqa: ANN401
    return bool(get_origin(kind) == Literal)


def _to_choice(value: Any, kind: type) -> Any:  # noqa: ANN401
    one, other = get_args(kind)
    if value not in (one, other):
        raise ValueError(f'{value!r} is neither "{one}" nor "{other}"')
    return value


def _table(hook: Callable[[Any, Any], Any]) -> Callable[[Any, Any], Any]:
    return lambda value, kind: hook(_typed(value, dict, "a table"), kind)


def _to_words(value: Any, _: type) -> tuple[str, ...]:  # noqa: ANN401
    if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
        raise ValueError(f"{value!r} should be a list of words in quotes")
    return tuple(value)


def _to_count(value: Any, _: type) -> int:  # noqa: ANN401
    count: int = _typed(value, int, "a whole number")
    if count < 0:
        raise ValueError(f"{value!r} frames is less than none")
    return count


def _to_level(value: Any, _: type) -> float:  # noqa: ANN401
    level = float(_typed(value, (int, float), "a number"))
    if not isfinite(level):
        raise ValueError(f"{value!r} is not a number that can be used")
    return level


def _typed(value: Any, kind: type | tuple[type, ...], name: str) -> Any:  # noqa: ANN401
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        raise ValueError(f"{value!r} should be {name}")
    return value


def _to_fraction(value: Any, _: type) -> Fraction:  # noqa: ANN401
    if not isfinite(_typed(value, (int, float), "a number of seconds")):
        raise ValueError(f"{value!r} is not a number that can be used")
    seconds = Fraction(str(value))
    if seconds < 0:
        raise ValueError(f"{value!r} seconds is less than none")
    return seconds


def _to_element(value: Any, _: type) -> Element:  # noqa: ANN401
    try:
        return Element(value)
    except ValueError:
        raise ValueError(f"{value!r} is none of {', '.join(Element)}") from None


def _located(mistake: str, text: str) -> list[tuple[int, str]]:
    """The mistake in words with the line it stands on (0: none found); unknown keys come one by one."""
    what, _, path = mistake.rpartition(" @ ")
    extra = re.match(r"extra fields found \(([^)]*)\)", what)
    table = path.lstrip(".")
    steps = steps_of(table)
    if extra:
        return [
            (line_of(text, [*steps, key]), ": ".join(filter(None, (table, f"unknown key {key}"))))
            for key in extra[1].split(", ")
        ]
    return [(line_of(text, steps), f"{table}: {what}" if table else what)]
