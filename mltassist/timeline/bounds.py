"""How small and how large a figure may be: said beside its type, and checked however it is made.

A field `at: Annotated[int, Within(0, MOST)]` of a `Bounded` dataclass takes nothing else. Its module must
not put off annotations (``from __future__ import annotations``): readers of TOML and JSON look at the types.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, fields
from fractions import Fraction
from itertools import pairwise, repeat
from math import isfinite
from numbers import Integral, Real
from typing import Any, get_args, get_origin

from mltassist.errors import FigureError

Flaw = tuple[tuple[str, ...], str]
"""Names of fields, and what is wrong with them."""
_CALLED: dict[Any, tuple[type, str]] = {
    int: (Integral, "a whole number"),
    float: (Real, "a number"),
    Fraction: (Real, "a number of seconds"),
}
"""What a figure of this type must be, and what that is called."""


@dataclass(frozen=True, slots=True)
class Within:
    """From `least` to `most`, both included; with `above` only what is more than `least`."""

    least: float
    most: float
    above: bool = False

    def __str__(self) -> str:
        return f"above {self.least}, up to {self.most}" if self.above else f"{self.least} to {self.most}"

    def __contains__(self, value: Any) -> bool:  # noqa: ANN401  (numbers of any kind compare)
        return bool(self.least <= value <= self.most and not (self.above and value == self.least))


class Bounded:
    """A frozen dataclass whose figures keep their bounds; FigureError tells all that do not."""

    __slots__ = ()

    def __post_init__(self) -> None:
        own: Any = self
        found: list[Flaw] = [
            ((each.name,), told)
            for each in fields(own)
            for told in _flaws(each.type, getattr(self, each.name))
        ]
        if found := found or list(self.contradictions()):
            raise FigureError(type(self).__name__, found)

    def contradictions(self) -> Iterator[Flaw]:
        """What does not go together."""
        return iter(())


def rising(owner: object, *names: str) -> Iterator[Flaw]:
    """Figures that are more than the next of these."""
    for one, other in pairwise(names):
        less, more = getattr(owner, one), getattr(owner, other)
        if less > more:
            yield (one, other), f"{one} ({shown(less)}) is more than {other} ({shown(more)})"


def flaw(kind: Any, value: object) -> str:  # noqa: ANN401  (typing has no name for an annotated type)
    """What is wrong with a value for a figure of this annotated type; "" where nothing is."""
    base, (within,) = kind.__origin__, kind.__metadata__
    number, called = _CALLED[base]
    # Most are of the very type, which is told much sooner than what else counts as a number.
    if type(value) is not base and (isinstance(value, bool) or not isinstance(value, number)):
        return f"{shown(value)} should be {called}"
    if isinstance(value, float) and not isfinite(value):
        return f"{value} is not a number that can be used"
    return "" if value in within else f"{shown(value)} should be {within}"


def _flaws(kind: Any, value: Any) -> list[str]:  # noqa: ANN401
    """What is wrong with the figures of a value that may hold several."""
    if is_figure(kind):
        told = flaw(kind, value)
        return [told] if told else []
    if get_origin(kind) is not tuple:
        return []
    kinds = get_args(kind)
    inner = repeat(kinds[0]) if kinds[-1] is ... else kinds
    return [told for one, part in zip(inner, value, strict=False) for told in _flaws(one, part)]


def is_figure(kind: Any) -> bool:  # noqa: ANN401
    """True for the type of a figure with bounds."""
    return hasattr(kind, "__metadata__")


def shown(value: object) -> str:
    """A value as a person has written it, or nearly so, cut short."""
    if isinstance(value, Fraction):
        return f"{float(value):g}"
    try:
        text = repr(value) if isinstance(value, float) else json.dumps(value, ensure_ascii=False, default=str)
    except (RecursionError, ValueError):  # nested without end, or a number of thousands of digits
        text = f"a {type(value).__name__}"
    return text if len(text) <= 40 else f"{text[:39]}…"
