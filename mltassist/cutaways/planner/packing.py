"""Which of many shots to lay where there are too few clips: a set packing, solved by scipy's HiGHS.

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
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np

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
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.fitting import COMBINATIONS
from mltassist.cutaways.planner.shots import Supply
from mltassist.cutaways.planner.stoppable import stoppable
from mltassist.frames import Span

NODES = 3
"""Nodes of the solver's search at most."""
_NEAR = 1e-3
"""How near to the best is enough, as a part of the plan's cost."""
_PRINTING = Lock()


def pack(
    columns: Columns | None,
    rules: Frames,
    supply: Supply,
    limits: Limits,
    opened: float,
    *,
    many: int = COMBINATIONS,
) -> tuple[tuple[Span, int], ...]:
    """The best choice of these shots that was found, in order; none where none was.

    opened: what it costs to lay none at all. many: combinations of lengths it is told at most.
    """
    if columns is None:
        return ()
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - it takes long to load
    from scipy.sparse import block_array, csr_array, hstack  # noqa: PLC0415

    sets = one_picture(columns) + rested(columns, rules.reuse_after) + alike_apart(supply, columns)
    sets += [row for _, row in frames_shown(columns, limits.frames)]
    table, most = table_of(sets, columns)
    drawn, paid, of_uses = used(columns, limits.uses)
    shots, together, fits = fitted(columns, limits, many)
    blocks: list[list[Any]] = [[table, None, None], [drawn, paid, None], [shots, None, together]]
    rows = block_array([row for row in blocks if row[0].shape[0]], format="csr")
    met = [meeting.cost for meeting in columns.met]
    costs = np.concatenate((columns.costs, met, of_uses, np.zeros(together.shape[1])))
    whole = np.zeros(len(costs))
    whole[: len(columns.spans)] = 1
    with nothing_printed():
        found = stoppable(
            lambda: milp(
                # One column more is what it costs without any shot: how near is enough is told by the sum.
                np.append(costs, opened),
                constraints=LinearConstraint(
                    hstack((rows, csr_array((rows.shape[0], 1)))),
                    -np.inf,
                    np.concatenate((most, np.zeros(drawn.shape[0]), fits)),
                ),
                integrality=np.append(whole, 0),
                bounds=Bounds(np.append(np.zeros(len(costs)), 1.0), 1),
                options={"node_limit": NODES, "mip_rel_gap": _NEAR},
            )
        )
    if found.x is None:
        return ()
    taken = np.flatnonzero(found.x[: len(columns.spans)] > 0.5).tolist()
    return tuple(sorted((columns.spans[column], int(columns.moments[column])) for column in taken))


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
