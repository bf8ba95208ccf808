"""How a figure of a recipe is written down: its bounds in its type, its default, and why it is that."""

from dataclasses import field
from fractions import Fraction
from typing import Annotated, Any

from mltassist.timeline.bounds import Within

Decibels = Annotated[float, Within(0, 100)]
Limit = Annotated[float, Within(0, 100, above=True)]
Factor = Annotated[float, Within(0, 100, above=True)]
Separation = Annotated[float, Within(0, 40)]
"""Loudness of speech above what lies beneath it (LU): at 40 nobody hears that."""
Weight = Annotated[float, Within(0, 1_000_000)]
FrameCount = Annotated[int, Within(0, 1000)]
Seconds = Annotated[Fraction, Within(0, 3600)]
Duration = Annotated[Fraction, Within(0, 3600, above=True)]


def figure(default: Any, why: str) -> Any:  # noqa: ANN401  (dataclasses.field is typed the same way)
    """A field with its default, and why it has it."""
    return field(default=default, metadata={"why": why})


def seconds(default: str, why: str) -> Any:  # noqa: ANN401
    """The same for a time."""
    return figure(Fraction(default), why)
