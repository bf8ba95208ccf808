"""Plain data, as TOML and JSON give it, into dataclasses; every mistake is told with its place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import is_dataclass
from fractions import Fraction
from typing import Any, Literal, NamedTuple, get_args, get_origin

import cattrs
from cattrs.cols import homogenous_tuple_structure_factory, is_mapping, mapping_structure_factory
from cattrs.gen import make_dict_structure_fn

from mltassist.errors import FigureError
from mltassist.timeline.bounds import flaw, is_figure, shown

Hook = Callable[[Any, Any], Any]


LONGEST_NAME = 100
"""Letters of a key that are told of one that nobody has written by hand."""


class Mistake(NamedTuple):
    """What is wrong. path: keys and indexes down to where; keys: those there that it speaks of, if any."""

    path: tuple[str | int, ...]
    what: str
    keys: tuple[str, ...] = ()

    @property
    def told(self) -> str:
        """The mistake with its place: ``pauses[1].length_s: is missing``."""
        steps = (f"[{step}]" if isinstance(step, int) else _key(step) for step in self.path)
        return f"{''.join(steps).lstrip('.')}: {self.what}" if self.path else self.what


def _key(step: str) -> str:
    return f".{step}" if step.replace("_", "a").isalnum() else f"[{step!r}]"


def converter() -> cattrs.Converter:
    """A converter that takes nothing for something else: no text for a list, no 1.0 for a whole number."""
    made = cattrs.Converter(forbid_extra_keys=True)
    made.register_structure_hook(int, _to_whole)
    made.register_structure_hook(bool, lambda value, _: _typed(value, bool, "true or false"))
    made.register_structure_hook(str, lambda value, _: _typed(value, str, "text in quotes"))
    made.register_structure_hook_func(is_figure, _to_figure)
    made.register_structure_hook_func(_comes_of(Literal), _to_choice)
    made.register_structure_hook_factory(
        is_mapping, lambda kind: _checked(dict, "a table", mapping_structure_factory(kind, made))
    )
    made.register_structure_hook_factory(
        _comes_of(tuple),
        lambda kind: _checked(list, "a list", _tuples(kind, made)),
    )
    made.register_structure_hook_factory(
        is_dataclass, lambda kind: _checked(dict, "a table", make_dict_structure_fn(kind, made))
    )
    made.register_structure_hook_func(lambda kind: kind == tuple[str, ...], _to_words)
    return made


def mistakes(error: BaseException, path: tuple[str | int, ...] = ()) -> Iterator[Mistake]:
    """Everything that a converter found wrong."""
    match error:
        case cattrs.ClassValidationError() | cattrs.IterableValidationError():
            noted, others = error.group_exceptions()
            for inner, note in noted:
                step = note.name if isinstance(note, cattrs.AttributeValidationNote) else note.index
                yield from mistakes(inner, (*path, step))
            for inner in others:
                yield from mistakes(inner, path)
        case cattrs.ForbiddenExtraKeysError():
            for key in sorted(error.extra_fields):
                name = key if len(key) <= LONGEST_NAME else f"{key[:LONGEST_NAME]}…"
                yield Mistake(path, f"unknown key {name}", (key,))
        case FigureError():
            for keys, what in error.flaws:
                yield Mistake((*path, *keys), what) if len(keys) == 1 else Mistake(path, what, keys)
        case KeyError():
            yield Mistake(path, "is missing")
        case _:
            yield Mistake(path, str(error) or type(error).__name__)


def _comes_of(origin: Any) -> Callable[[Any], bool]:  # noqa: ANN401
    return lambda kind: get_origin(kind) is origin


def _checked(kind: type, called: str, hook: Hook) -> Hook:
    return lambda value, wanted: hook(_typed(value, kind, called), wanted)


def _tuples(kind: Any, made: cattrs.Converter) -> Hook:  # noqa: ANN401
    """Tuples of any length of one kind, or of one value of each kind."""
    kinds = get_args(kind)
    if kinds[-1] is ...:
        return homogenous_tuple_structure_factory(kind, made)

    def each(value: list[Any], _: Any) -> Any:  # noqa: ANN401
        if len(value) != len(kinds):
            raise ValueError(f"{shown(value)} should be a list of {len(kinds)}")
        return tuple(made.structure(part, inner) for part, inner in zip(value, kinds, strict=True))

    return each


def _to_figure(value: Any, kind: Any) -> Any:  # noqa: ANN401
    if told := flaw(kind, value):
        raise ValueError(told)
    base = get_args(kind)[0]
    return Fraction(str(value)) if base is Fraction else base(value)


def _to_whole(value: Any, _: Any) -> int:  # noqa: ANN401
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"{shown(value)} should be a whole number")
    return value


def _to_choice(value: Any, kind: Any) -> Any:  # noqa: ANN401
    if value not in get_args(kind):
        raise ValueError(f"{shown(value)} should be {' or '.join(map(shown, get_args(kind)))}")
    return value


def _to_words(value: Any, _: Any) -> tuple[str, ...]:  # noqa: ANN401
    if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
        raise ValueError(f"{shown(value)} should be a list of words in quotes")
    return tuple(value)


def _typed(value: Any, kind: type, called: str) -> Any:  # noqa: ANN401
    if not isinstance(value, kind):
        raise ValueError(f"{shown(value)} should be {called}")
    return value
