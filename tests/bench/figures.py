"""Figures as benchmarks tell them: what was measured, several times, beside its floor and what is asked."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from math import log
from pathlib import Path
from statistics import median
from typing import Any

SEED = int(os.environ.get("BENCH_SEED", "0"))
"""Another number damages, kills and draws otherwise."""
_NOTES = "BENCH_FIGURES"


@dataclass
class Figure:
    """One figure: what was measured several times, beside what is asked. met: None where nothing is asked."""

    name: str
    values: list[float]
    unit: str
    asked: str
    met: bool | None

    @property
    def told(self) -> str:
        """The median with its spread."""
        low, middle, high = min(self.values), median(self.values), max(self.values)
        spread = "" if len(self.values) == 1 else f"  ({low:.3g} to {high:.3g}, {len(self.values)} times)"
        return f"{middle:.4g} {self.unit}{spread}"


@dataclass
class Growth:
    """What something takes by minutes of film, several times each; floors: the bare work of the same run.

    power: the power of the length that it may grow with, None where nothing is asked.
    """

    name: str
    unit: str
    values: dict[int, list[float]]
    floors: dict[int, list[float]] = field(default_factory=dict)
    power: float | None = None

    def grown(self) -> float | None:
        """The power of the length with which it grows, from the shortest film to the longest."""
        if len(self.values) < 2:
            return None
        (few, before), *_, (many, after) = sorted(self.values.items())
        return log(median(after) / median(before)) / log(many / few)


@dataclass
class Found:
    """What one measure found."""

    figures: list[Figure] = field(default_factory=list)
    growths: list[Growth] = field(default_factory=list)

    def add(self, other: Found) -> None:
        """Take up what another found; growths of one name become one."""
        self.figures += other.figures
        known = {(growth.name, growth.unit): growth for growth in self.growths}
        for growth in other.growths:
            one = known.get((growth.name, growth.unit))
            if one is not None:
                one.values |= growth.values
                one.floors |= growth.floors
            else:
                self.growths.append(growth)

    def as_data(self) -> dict[str, Any]:
        """As plain data, which JSON can hold."""
        return asdict(self)


def found_of(data: dict[str, Any]) -> Found:
    """What `as_data` made: lengths are numbers again."""
    return Found(
        [Figure(**row) for row in data["figures"]],
        [
            Growth(
                **{
                    **row,
                    "values": {int(length): some for length, some in row["values"].items()},
                    "floors": {int(length): some for length, some in row["floors"].items()},
                }
            )
            for row in data["growths"]
        ],
    )


def noted(name: str, values: Iterable[float], unit: str, asked: str, met: bool | None) -> None:
    """Tell a figure from within a test, and `python -m tests.bench` too where it runs the test."""
    figure = Figure(name, [float(value) for value in values], unit, asked, None if met is None else bool(met))
    sys.stdout.write(f"\n  {figure.name}: {figure.told}, asked {figure.asked}\n")
    if place := os.environ.get(_NOTES):
        with Path(place).open("a", encoding="utf-8") as file:
            file.write(json.dumps(asdict(figure)) + "\n")


def noting(place: Path) -> dict[str, str]:
    """The environment in which `noted` writes to a file."""
    return {**os.environ, _NOTES: str(place)}


def notes_in(place: Path) -> list[Figure]:
    """What was noted there."""
    lines: Sequence[str] = place.read_text(encoding="utf-8").splitlines() if place.exists() else ()
    return [Figure(**json.loads(line)) for line in lines]
