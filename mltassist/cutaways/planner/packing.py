"""Which of many shots to lay where there are too few clips: a set packing, solved by scipy's HiGHS.

A column is one span filled by one moment; a row says that of some columns one at most is taken: those
that lie over one frame, those between whose ends a face would flash, those of one clip that lie or rest
at one frame.
What shots cost beside each other is not known to it, so that its plan is weighed anew. (The weighted interval
scheduling of the textbooks, with rests; the solver is deterministic and stops after so many nodes.)
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

import numpy as np

from mltassist.cutaways.planner.bounds import Limits
from mltassist.cutaways.planner.costs import Array, Stretch, length_costs, stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.shots import Supply, alone_costs, leave_out_refused
from mltassist.cutaways.planner.stoppable import stoppable
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span

if TYPE_CHECKING:
    from scipy.sparse import csr_array

NODES = 3
"""Nodes of the solver's search at most."""
COLUMNS = 1000
"""About so many columns are enough."""
MOST = 8000
"""Of more the solver makes minutes: a long film with few clips has tens of thousands."""
NEAR = 1e-3
"""How near to the best is enough, as a part of all that shots are worth."""
EQUAL = 1e-9
_PRINTING = Lock()


def pack(
    task: CoverTask,
    rules: Frames,
    supply: Supply,
    limits: Limits,
    matcher: Matcher | None,
    *,
    spans: Sequence[Span],
) -> tuple[tuple[Span, int], ...]:
    """The best choice of spans and moments that was found, in order; none where none was."""
    if not spans or not supply.moments:
        return ()
    alone = alone_costs(rules, supply, spans, matcher)
    leave_out_refused(task, supply, spans, alone)
    by_length, stretches = length_costs(rules), stretches_of(task, rules)
    gains = np.array([_gain(stretches, rules, by_length, span) for span in spans])
    with_uses = rules.weights.used_before * limits.uses.before[supply.sources]
    worth = alone + gains[:, None] + with_uses
    rows, moments = np.nonzero(worth < -EQUAL)
    if len(rows) > MOST:  # each span is left with its best moments
        each = max(1, MOST // len(spans))
        best = np.sort(np.argpartition(worth, each - 1, axis=1)[:, :each], axis=1)
        kept, place = np.nonzero(np.take_along_axis(worth, best, axis=1) < -EQUAL)
        rows, moments = kept, best[kept, place]
    if not len(rows):
        return ()
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - it takes long to load

    starts = np.array([spans[row].start for row in rows.tolist()], dtype=np.int64)
    ends = np.array([spans[row].end for row in rows.tolist()], dtype=np.int64)
    table, most = _limits(rules, limits, starts, ends, supply.sources[moments])

    def solved() -> Any:  # noqa: ANN401 - a class that the library does not export
        with nothing_printed():
            return milp(
                worth[rows, moments],
                constraints=LinearConstraint(table, -np.inf, most),
                integrality=np.ones(len(rows), dtype=np.int64),
                bounds=Bounds(0, 1),
                options={"node_limit": NODES, "mip_rel_gap": NEAR},
            )

    found = stoppable(solved)
    if found.x is None:
        return ()
    taken = np.flatnonzero(found.x > 0.5).tolist()
    return tuple(sorted((spans[int(rows[column])], int(moments[column])) for column in taken))


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


def _gain(stretches: Sequence[Stretch], rules: Frames, by_length: Array, span: Span) -> float:
    """What a shot costs here more than open picture, whatever fills it; infinite where none may lie."""
    stretch = next(one for one in stretches if one.span.covers(span))
    first, last = span.start - stretch.span.start, span.end - stretch.span.start
    if span.length > rules.shot_max and stretch.cuts_before[last] - stretch.cuts_before[first] < 2:
        return float("inf")
    covered = stretch.cover_sum[last] - stretch.cover_sum[first]
    opened = stretch.open_sum[last] - stretch.open_sum[first]
    edges = stretch.boundary[first] + stretch.boundary[last]
    return float(by_length[span.length] + covered - opened + edges)


def _limits(
    rules: Frames, limits: Limits, starts: Numbers, ends: Numbers, sources: Numbers
) -> tuple[csr_array, Array]:
    """The rows: (rows, columns), and how much each allows."""
    sets: list[Numbers] = []
    for at in np.unique(starts).tolist():
        sets.append(np.flatnonzero((starts <= at) & (at < ends)))
    for at in np.unique(ends).tolist():
        flash = (starts > at) & (starts < at + rules.face_min)
        if flash.any():
            sets.append(np.flatnonzero((ends == at) | flash))
    own_frames: list[Numbers] = []
    for source in np.unique(sources).tolist():
        own = sources == source
        own_frames.append(np.flatnonzero(own))
        for at in np.unique(starts[own]).tolist():
            sets.append(np.flatnonzero(own & (starts <= at) & (at < ends + rules.reuse_after)))
    values = [np.ones(len(one)) for one in sets]
    # As parts of what there is: the solver's tolerances are meant for numbers near one.
    values += [(ends - starts)[own] / limits.frames[sources[own[0]]] for own in own_frames]
    sets += own_frames
    heads = np.concatenate(([0], np.cumsum([len(one) for one in sets])))
    from scipy.sparse import csr_array  # noqa: PLC0415

    table = csr_array((np.concatenate(values), np.concatenate(sets), heads), shape=(len(sets), len(starts)))
    return table, np.ones(len(sets))
