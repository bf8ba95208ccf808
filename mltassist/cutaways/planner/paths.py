"""What a search for sequences of shots is told and what it finds, in plain data."""

from __future__ import annotations

from dataclasses import dataclass

from mltassist.cutaways.planner.costs import Array
from mltassist.frames import Span

Rows = tuple[tuple[Span, int], ...]
"""Shots by their spans, each with the number of its moment, in order."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What shots pay: (boundaries, moments) where one begins and ends in each stretch; (lengths, moments)."""

    begin: tuple[Array, ...]
    end: tuple[Array, ...]
    length: Array | None = None


@dataclass(frozen=True, slots=True)
class Path:
    """A sequence of shots, each with the number of its moment, and what it costs with all prices."""

    cost: float
    shots: Rows
