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

import numpy as np

from mltassist.cutaways.planner.bounds import Limits
from mltassist.cutaways.planner.columns import (
    Columns,
    alike_apart,
    frames_shown,
    one_picture,
    rested,
    table_of,
)
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.shots import Supply
from mltassist.cutaways.planner.stoppable import stoppable
from mltassist.frames import Span

NODES = 3
"""Nodes of the solver's search at most."""
_NEAR = 1e-3
"""How near to the best is enough, as a part of all that shots are worth."""
_PRINTING = Lock()


def pack(
    columns: Columns | None, rules: Frames, supply: Supply, limits: Limits
) -> tuple[tuple[Span, int], ...]:
    """The best choice of these shots that was found, in order; none where none was."""
    if columns is None:
        return ()
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - it takes long to load

    sets = one_picture(columns) + rested(columns, rules.reuse_after) + alike_apart(supply, columns)
    sets += [row for _, row in frames_shown(columns, limits.frames)]
    table, most = table_of(sets, columns)
    many, met = len(columns.spans), [meeting.cost for meeting in columns.met]
    with nothing_printed():
        found = stoppable(
            lambda: milp(
                np.concatenate((columns.costs, met)),
                constraints=LinearConstraint(table, -np.inf, most),
                integrality=np.concatenate((np.ones(many, np.int64), np.zeros(len(met), np.int64))),
                bounds=Bounds(0, 1),
                options={"node_limit": NODES, "mip_rel_gap": _NEAR},
            )
        )
    if found.x is None:
        return ()
    taken = np.flatnonzero(found.x[:many] > 0.5).tolist()
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
