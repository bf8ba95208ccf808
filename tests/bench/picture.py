"""A picture of how times and memory grow with the length of films."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from statistics import median
from typing import Any

from tests.bench.figures import Growth

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
"""Okabe and Ito, Color Universal Design (2008): told apart by everybody."""
UNITS = {"s": "seconds of the processor", "MiB": "memory at the most, MiB"}


def draw(growths: Sequence[Growth], target: Path) -> None:
    """A panel for each unit, both axes in powers: medians with their spread, the floor of each dashed."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    names = list(dict.fromkeys(growth.name for growth in growths))
    units = [unit for unit in UNITS if any(growth.unit == unit for growth in growths)]
    figure, panels = pyplot.subplots(
        1, max(1, len(units)), figsize=(6.5 * max(1, len(units)), 6), squeeze=False
    )
    for unit, axes in zip(units, panels[0], strict=False):
        own = [growth for growth in growths if growth.unit == unit]
        for growth in own:
            _curve(axes, growth, COLOURS[names.index(growth.name) % len(COLOURS)])
        lengths = sorted({length for growth in own for length in growth.values})
        if unit == "s" and len(lengths) > 1:
            lowest = min(median(growth.values[min(growth.values)]) for growth in own) / 2
            line = [lowest * length / lengths[0] for length in lengths]
            axes.plot(lengths, line, color="grey", linestyle=":", label="as the film grows")
        axes.set(xscale="log", xlabel="minutes of film", ylabel=UNITS[unit])
        axes.set_xticks(lengths, [str(length) for length in lengths], minor=False)
        axes.minorticks_off()
        if unit == "s":
            axes.set_yscale("log")
        else:
            axes.set_ylim(bottom=0)
        axes.grid(alpha=0.3)
        axes.legend(fontsize=8, loc="upper center", bbox_to_anchor=(0.5, -0.12), ncols=2)
    figure.tight_layout()
    figure.savefig(target, dpi=120, bbox_inches="tight")
    pyplot.close(figure)


def _curve(axes: Any, growth: Growth, colour: str) -> None:
    lengths = sorted(growth.values)
    middle = [median(growth.values[length]) for length in lengths]
    below = [m - min(growth.values[length]) for m, length in zip(middle, lengths, strict=True)]
    above = [max(growth.values[length]) - m for m, length in zip(middle, lengths, strict=True)]
    grown = growth.grown()
    label = growth.name if grown is None or growth.unit != "s" else f"{growth.name} (n^{grown:.2f})"
    axes.errorbar(lengths, middle, yerr=(below, above), marker="o", capsize=3, color=colour, label=label)
    floors = [(length, median(growth.floors[length])) for length in lengths if growth.floors.get(length)]
    if floors:
        axes.plot(
            *zip(*floors, strict=True), color=colour, linestyle="--", alpha=0.6, label=f"{growth.name}: floor"
        )
