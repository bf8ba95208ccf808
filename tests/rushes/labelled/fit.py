"""Sets the weights of the evidence on the tuning half of the labelled rushes, and on nothing else.

`python -m tests.rushes.labelled.fit` prints how well recordings are told that were left out of the fit in
their turn, and writes `mltassist/rushes/evidence_weights.py` anew.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

import mltassist
from mltassist.media.sound.speech import default_detector
from mltassist.rushes import evidence_weights
from mltassist.rushes.evidence import MEASURES, Facts, weigh
from mltassist.rushes.evidence_weights import NONE, Outcome
from mltassist.rushes.gathering import gather_evidence, neighbours
from mltassist.timeline.elements import Element
from tests.cli.films import LAYOUTS
from tests.rushes.labelled import films, nameless, pool

FILMS = 35
PENALTY = 0.5
"""Of the squared weights. Where each recording was left out in its turn smaller ones told as well and more
surely; this much keeps chances from 0 and 1 for what the labelled rushes do not hold."""
NEAR = {True: 1.0, False: 0.5}
"""What neighbours count, with picture and without: up to 1, and up to 0.5, nothing is lost by it."""
FOLDS = 12
OUTCOMES: dict[bool, tuple[Outcome, ...]] = {
    True: (Element.INTERVIEW, Element.CUTAWAY, NONE),
    False: (Element.INTERVIEW, Element.NARRATION, Element.NATURAL, Element.MUSIC),
}
USED = {
    True: (
        *("speech", "little speech", "long runs", "music", "no sound", "drawn", "still", "fixed", "long"),
        *("over speech", "shortened", "own sound", "partner"),
    ),
    # Not how often it is cut shorter: of a narration that says as little as of a conversation.
    False: (
        *("speech", "little speech", "several voices", "music", "noise", "beneath speech", "throughout"),
        "partner",
    ),
}
_SHORT = {Element.NATURAL: "natural"}

Table = Mapping[Outcome, Mapping[str, float]]


@dataclass(frozen=True)
class Row:
    """A clip of a film: the recording behind it, what it is, the facts, and the clips beside it."""

    recording: str
    truth: Outcome
    facts: Facts
    key: tuple[str, str]
    beside: tuple[tuple[str, str], ...]


def gathered() -> list[Row]:
    """All clips of the tuning films, and of the example film without its names."""
    detector = default_detector()
    rows = []
    with tempfile.TemporaryDirectory() as name:
        projects = [*_films(Path(name)), *_example(Path(name))]
        for project, recordings, truth in projects:
            timeline = mltassist.open(project).timeline
            sources = {clip.source.key: clip.source for clip in timeline.bin}
            near = neighbours(sources)
            for key, one in gather_evidence(timeline, sources, detector).items():
                file = str(Path(key).relative_to(project.parent))
                beside = tuple((str(project), other) for other in near.get(key, ()))
                facts = replace(one.facts, near={})
                rows.append(Row(recordings[file], truth[file] or NONE, facts, (str(project), key), beside))
    return rows


Project = tuple[Path, dict[str, str], dict[str, Element | None]]


def _films(folder: Path) -> Iterable[Project]:
    for seed in range(FILMS):
        made = films.arranged(pool.TUNING, seed)
        recordings = {file: rush.name for file, rush in made.rush.items()}
        for layout in films.LAYOUTS:
            place = folder / f"{seed}-{layout}"
            place.mkdir()
            yield films.write(made, place, layout), recordings, made.truth


def _example(folder: Path) -> Iterable[Project]:
    made = nameless.nameless()
    for layout in LAYOUTS:
        place = folder / f"example-{layout}"
        place.mkdir()
        yield nameless.write(made, place, layout), made.was, made.truth


def fitted(rows: Sequence[Row], *, picture: bool) -> dict[Outcome, dict[str, float]]:
    """Weights of greatest likelihood less the penalty; each recording weighs by the root of its clips."""
    outcomes, used = OUTCOMES[picture], USED[picture]
    own = [row for row in rows if row.facts.picture is picture]
    values = np.array([[*(MEASURES[name][0](row.facts) for name in used), 1.0] for row in own])
    truth = np.array([outcomes.index(row.truth) for row in own])
    often = Counter(row.recording for row in own)
    weight = np.array([often[row.recording] ** -0.5 for row in own])
    weight *= 400 / weight.sum()
    penalty = np.full(values.shape[1], PENALTY)
    penalty[-1] /= 10  # the constant is no claim about a measure

    def loss(flat: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        table = flat.reshape(len(outcomes), -1)
        scores = values @ table.T
        chances = np.exp(scores - scores.max(axis=1, keepdims=True))
        chances /= chances.sum(axis=1, keepdims=True)
        lost = -(weight * np.log(chances[range(len(own)), truth] + 1e-12)).sum()
        slope = ((chances - np.eye(len(outcomes))[truth]) * weight[:, None]).T @ values + penalty * table
        return float(lost + (penalty * table**2).sum() / 2), slope.ravel()

    start = np.zeros(len(outcomes) * values.shape[1])
    table = minimize(loss, start, jac=True, options={"maxiter": 2000}).x.reshape(len(outcomes), -1)
    return {
        outcome: {name: round(float(w), 1) for name, w in zip((*used, ""), row, strict=True)}
        for outcome, row in zip(outcomes, table, strict=True)
    }


def left_out(rows: Sequence[Row]) -> list[dict[Outcome, float]]:
    """The chances of each clip by weights that were fitted without its recording; neighbours do not count."""
    names = sorted({row.recording for row in rows})
    found: dict[int, dict[Outcome, float]] = {}
    for fold in range(FOLDS):
        hidden = set(names[fold::FOLDS])
        seen = [row for row in rows if row.recording not in hidden]
        tables = {picture: fitted(seen, picture=picture) for picture in (True, False)}
        for number, row in enumerate(rows):
            if row.recording in hidden:
                found[number] = dict(weigh(row.facts, tables[row.facts.picture]).chances)
    return [found[number] for number in range(len(rows))]


def with_neighbours(
    rows: Sequence[Row], alone: Sequence[dict[Outcome, float]], factor: float
) -> list[dict[Outcome, float]]:
    """The same chances where neighbours count by this factor."""
    place = {row.key: number for number, row in enumerate(rows)}
    found = []
    for row, own in zip(rows, alone, strict=True):
        near = [alone[place[key]] for key in row.beside if key in place]
        scores = {
            outcome: log(max(chance, 1e-12))
            + factor * sum(other.get(outcome, 0.0) for other in near) / max(1, len(near))
            for outcome, chance in own.items()
            if outcome in own
        }
        whole = sum(exp(score) for score in scores.values())
        found.append({outcome: exp(score) / whole for outcome, score in scores.items()})
    return found


def told(rows: Sequence[Row], chances: Sequence[dict[Outcome, float]]) -> str:
    """How often the likeliest outcome is right, and the mean logarithm that is lost."""
    best = [max(own, key=lambda outcome: own[outcome]) for own in chances]
    right = [outcome == row.truth for outcome, row in zip(best, rows, strict=True)]
    lost = [-log(max(own[row.truth], 1e-12)) for own, row in zip(chances, rows, strict=True)]
    return f"right {np.mean(right):.4f}, lost {np.mean(lost):.4f}"


def as_module(tables: Mapping[bool, Table]) -> str:
    """The weights as the text of their module."""
    text = Path(evidence_weights.__file__).read_text(encoding="utf-8")
    lines = [text[: text.index("PICTURED:")].rstrip("\n"), ""]
    titles = {True: ("PICTURED", "For files with picture."), False: ("SOUND_ALONE", "For sound alone.")}
    for picture, (name, what) in titles.items():
        lines.append(f"{name}: Mapping[Outcome, Mapping[str, float]] = {{")
        for outcome, row in tables[picture].items():
            lines.append(f"    {f'Element.{outcome.name}' if isinstance(outcome, Element) else 'NONE'}: {{")
            lines += [f'        "{measure}": {weight},' for measure, weight in row.items()]
            if isinstance(outcome, Element):
                lines.append(f'        "near {_SHORT.get(outcome, outcome)}": {NEAR[picture]},')
            lines.append("    },")
        lines += ["}", f'"""{what}"""', ""]
    return "\n".join(lines)


def main() -> None:
    """Fit, tell how well it does, and write the weights."""
    rows = gathered()
    alone = left_out(rows)
    for picture in (True, False):
        own = [number for number, row in enumerate(rows) if row.facts.picture is picture]
        for factor in (0.0, 0.5, 1.0, 1.5, 2.0):
            chances = with_neighbours(rows, alone, factor)
            what = told([rows[n] for n in own], [chances[n] for n in own])
            sys.stdout.write(f"{'picture' if picture else 'sound alone'}, neighbours {factor}: {what}\n")
    tables = {picture: fitted(rows, picture=picture) for picture in (True, False)}
    Path(evidence_weights.__file__).write_text(as_module(tables), encoding="utf-8")


if __name__ == "__main__":
    main()
