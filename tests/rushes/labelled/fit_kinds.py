"""Sets the weights by which sound is told to be speech, music or noise: tuning half and example film.

`python -m tests.rushes.labelled.fit_kinds` prints them; they stand in `mltassist/media/sound/kind.py`.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from mltassist.demofilm import scenario
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.kind import KIND_WEIGHTS, Kind, Traits, kind_row, traits
from mltassist.media.sound.speech import RATE_HZ, default_detector
from mltassist.timeline.elements import SPEECH, Element
from tests.cli.films import EXAMPLE
from tests.rushes.labelled import pool

PENALTY = 0.3
WINDOW_S, WINDOWS = 4.8, 8
MIDDLE = np.array([0.4, 0.5, 0.4, -1.3, 0.45, 0.5, 0.3])
SPREAD = np.array([0.4, 0.2, 0.25, 0.7, 0.12, 0.15, 0.25])
"""About what the measures are and how they vary: the penalty counts in steps of that."""
BANDS = ("band a",)
"""Shots in whose sound music is played."""

Row = tuple[str, Kind, NDArray[np.float64]]


def measured() -> Iterator[Row]:
    """Every window of every recording that is heard: its name, what it is, and its measures."""
    detector = default_detector()
    for name, path, length_s, kind in _recordings():
        count = min(WINDOWS, max(1, int(length_s / WINDOW_S)))
        for start_s in np.linspace(0, max(0.0, length_s - WINDOW_S), count):
            samples = int(min(WINDOW_S, length_s) * RATE_HZ)
            mono = read_sound(path, int(start_s * RATE_HZ), samples, rate_hz=RATE_HZ, mono=True)[0]
            found: Traits = traits(mono, detector.probability(mono))
            yield name, kind, kind_row(found)[:-1]


def _recordings() -> Iterator[tuple[str, Path, float, Kind]]:
    for rush in pool.rushes():
        if rush.half == pool.TUNING and rush.sound is not None:
            music = rush.element is Element.MUSIC or rush.name in BANDS
            kind = Kind.SPEECH if rush.element in SPEECH else Kind.MUSIC if music else Kind.NOISE
            yield rush.name, pool.write(rush), rush.length_s, kind
    for shot in scenario.rushes():
        folder = shot.file.split("/")[1]
        kind = {"interview": Kind.SPEECH, "narration": Kind.SPEECH, "music": Kind.MUSIC}.get(
            folder, Kind.NOISE
        )
        yield shot.file, EXAMPLE / shot.file, shot.length / 25, kind


def fitted(rows: Sequence[Row]) -> dict[Kind, tuple[float, ...]]:
    """Weights of greatest likelihood less the penalty; recordings and kinds weigh alike."""
    kinds = tuple(KIND_WEIGHTS)
    values = (np.array([row for *_, row in rows]) - MIDDLE) / SPREAD
    values = np.column_stack([values, np.ones(len(rows))])
    truth = np.array([kinds.index(kind) for _, kind, _ in rows])
    windows = Counter(name for name, *_ in rows)
    files = Counter(kind for _, kind in {(name, kind) for name, kind, _ in rows})
    weight = np.array([1 / windows[name] / files[kind] for name, kind, _ in rows])
    weight *= 60 / weight.sum()

    def loss(flat: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        table = flat.reshape(len(kinds), -1)
        scores = values @ table.T
        chances = np.exp(scores - scores.max(axis=1, keepdims=True))
        chances /= chances.sum(axis=1, keepdims=True)
        lost = -(weight * np.log(chances[range(len(rows)), truth] + 1e-12)).sum()
        slope = ((chances - np.eye(len(kinds))[truth]) * weight[:, None]).T @ values
        slope[:, :-1] += PENALTY * table[:, :-1]
        return float(lost + PENALTY / 2 * (table[:, :-1] ** 2).sum()), slope.ravel()

    table = minimize(loss, np.zeros(len(kinds) * values.shape[1]), jac=True).x.reshape(len(kinds), -1)
    table -= table.mean(axis=0)
    plain = table[:, :-1] / SPREAD
    constant = table[:, -1] - plain @ MIDDLE
    rows_of = np.column_stack([plain, constant]).round(1).tolist()
    return {kind: tuple(row) for kind, row in zip(kinds, rows_of, strict=True)}


def main() -> None:
    """Print the weights."""
    for kind, weights in fitted(list(measured())).items():
        sys.stdout.write(f"{kind}: {weights}\n")


if __name__ == "__main__":
    main()
