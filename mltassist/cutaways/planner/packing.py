"""Which of many shots to lay where there are too few clips: a set packing, solved by scipy's HiGHS.

Where that is too hard at once, parts of the choice are made anew in turn.
A column is one span filled by one moment; a row says that of some columns one at most is taken: those
that lie over one frame, those of one clip that lie or rest at one frame, those alike that touch. More
columns tell what two shots cost beside each other: one edit of the picture where they touch (`meetings.py`).
Repeated subjects, sizes and uses are not known to it, so that its plan is weighed anew. (The weighted
interval scheduling of the textbooks, with rests; the solver is deterministic and stops after so many nodes.)
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
import numpy.typing as npt

from mltassist.cutaways.planner.bounds import Limits
from mltassist.cutaways.planner.columns import (
    Columns,
    alike_apart,
    fitted,
    frames_shown,
    one_picture,
    rested,
    table_of,
    used,
)
from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.fitting import COMBINATIONS
from mltassist.cutaways.planner.paths import Rows
from mltassist.cutaways.planner.stoppable import stoppable
from mltassist.cutaways.planner.supply import Supply

NODES, OF_PART = 1, 3
"""Nodes of the solver's search at most, over all shots and over a part of them."""
_NEAR, _NEARER = 1e-3, 1e-4
"""How near to the best is enough there, as a part of the plan's cost."""
REDONE = 0.7
"""Of all shots that are chosen anew at once: fewer do not lead out of a bad choice, more take too long."""
TURNS, IDLE = 20, 5
"""Times that a part is chosen anew at most, and in a row without anything much better once it
is good enough."""
_PRINTING = Lock()
Taken = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Problem:
    """The rows of the solver, how much each allows, and what each of its columns costs; shots come first."""

    shots: int
    table: Any
    most: Array
    costs: Array

    def solved(self, low: Array, high: Array, *, nodes: int, near: float) -> tuple[float, Taken] | None:
        """What the best choice costs that was found, and which shots it takes; none where none was."""
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - it takes long to load

        rest = np.ones(len(self.costs) - self.shots)
        with nothing_printed():
            found = stoppable(
                lambda: milp(
                    self.costs,
                    constraints=LinearConstraint(self.table, -np.inf, self.most),
                    integrality=np.concatenate((np.ones(self.shots), 0 * rest)),
                    # The last one is what it costs without any shot: how near is enough is told by the sum.
                    bounds=Bounds(np.concatenate((low, 0 * rest[1:], [1.0])), np.concatenate((high, rest))),
                    options={"node_limit": nodes, "mip_rel_gap": near},
                )
            )
        return None if found.x is None else (float(found.fun), found.x[: self.shots] > 0.5)


def pack(columns: Columns | None, rules: Frames, supply: Supply, limits: Limits, opened: float) -> Rows:
    """The best choice of these shots that was found, in order; none where none was.

    opened: what it costs to lay none at all.
    """
    if columns is None:
        return ()
    problem = _problem_of(columns, rules, supply, limits, opened, many=COMBINATIONS)
    none = np.zeros(problem.shots)
    found = problem.solved(none, none + 1, nodes=NODES, near=_NEAR)
    return () if found is None else _rows_of(columns, found[1])


def pack_in_parts(
    columns: Columns | None,
    rules: Frames,
    supply: Supply,
    limits: Limits,
    opened: float,
    *,
    begun: Rows,
    enough: float,
) -> Rows:
    """The same where the choice is too hard at once: shots of some clips are chosen anew, then of others.

    begun: to begin with, as far as they are among the columns; enough: cost below which little more is asked.
    (Large neighbourhood search, as in Shaw 1998; from memory.)
    """
    if columns is None:
        return ()
    problem, draw = _problem_of(columns, rules, supply, limits, opened, many=0), np.random.default_rng(0)
    shots = list(zip(columns.spans, columns.moments.tolist(), strict=True))
    known = set(begun)
    taken, cost = np.array([shot in known for shot in shots]), np.inf
    idle = 0
    sources, many = np.unique(columns.sources, return_counts=True)
    for _ in range(TURNS):
        idle += 1
        order = draw.permutation(len(sources))
        few = int(np.searchsorted(np.cumsum(many[order]), REDONE * len(shots), side="right"))
        fixed = ~np.isin(columns.sources, sources[order[: max(1, few)]])
        found = problem.solved(
            np.where(fixed & taken, 1.0, 0.0),
            np.where(fixed & ~taken, 0.0, 1.0),
            nodes=OF_PART,
            near=_NEARER,
        )
        if found is not None and found[0] < cost:
            idle = 0 if found[0] < (1 - _NEAR) * cost else idle
            cost, taken = found
        if idle >= IDLE and cost <= enough:
            break
    return _rows_of(columns, taken) if cost < np.inf else ()


def _problem_of(
    columns: Columns, rules: Frames, supply: Supply, limits: Limits, opened: float, *, many: int
) -> _Problem:
    """What the solver is told. many: combinations of lengths at most."""
    from scipy.sparse import block_array, csr_array, hstack  # noqa: PLC0415 - it takes long to load

    sets = one_picture(columns) + rested(columns, rules.reuse_after) + alike_apart(supply, columns)
    sets += [row for _, row in frames_shown(columns, limits.frames)]
    table, most = table_of(sets, columns)
    drawn, paid, of_uses = used(columns, limits.uses)
    shots, together, fits = fitted(columns, limits, many)
    blocks: list[list[Any]] = [[table, None, None], [drawn, paid, None], [shots, None, together]]
    rows = block_array([row for row in blocks if row[0].shape[0]], format="csr")
    met = [meeting.cost for meeting in columns.met]
    return _Problem(
        len(columns.spans),
        hstack((rows, csr_array((rows.shape[0], 1)))),
        np.concatenate((most, np.zeros(drawn.shape[0]), fits)),
        np.concatenate((columns.costs, met, of_uses, np.zeros(together.shape[1]), [opened])),
    )


def _rows_of(columns: Columns, taken: Taken) -> Rows:
    places = np.flatnonzero(taken).tolist()
    return tuple(sorted((columns.spans[place], int(columns.moments[place])) for place in places))


@contextmanager
def nothing_printed() -> Iterator[None]:
    """Drop what compiled code prints meanwhile: the solver has lines that no option of it switches off.

    One thread at a time: what a second one found in the place of standard output would be put back for good.
    """
    with _PRINTING, ExitStack() as undone:
        if sys.stdout is not None:
            sys.stdout.flush()
        try:
            kept = os.dup(1)
        except OSError:  # there is no standard output at all
            yield
            return
        undone.callback(os.close, kept)
        nowhere = undone.enter_context(Path(os.devnull).open("wb"))
        _flush()
        os.dup2(nowhere.fileno(), 1)
        try:
            yield
        finally:
            _flush()
            os.dup2(kept, 1)


def _flush() -> None:
    """Let compiled code write what it has buffered; where its library is not known by name that is left."""
    if os.name == "posix":
        ctypes.CDLL(None).fflush(None)
