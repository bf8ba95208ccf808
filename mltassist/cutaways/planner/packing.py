"""Which of many shots to lay where there are too few clips: a set packing, solved by scipy's HiGHS.

A column is one span filled by one moment; a row says that of some columns one at most is taken: those
that lie over one frame, those of one clip that lie or rest at one frame, those alike that touch. More columns
tell what two shots cost beside each other: one edit of the picture where they touch (`meetings.py`).
Repeated subjects, sizes and uses are not known to it, so that its plan is weighed anew. (The weighted interval
scheduling of the textbooks, with rests; the solver is deterministic and stops after so many nodes.)
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections import defaultdict
from collections.abc import Container, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

from mltassist.cutaways.planner.bounds import Limits
from mltassist.cutaways.planner.costs import Array, Stretch, length_costs, stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.cutaways.planner.meetings import Edges, Meeting, edges_of, meetings
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.shots import Supply, alone_costs, leave_out_refused
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
    edges = [edges_of(stretch, rules) for stretch in stretches]
    gains = np.array([_gain(stretches, edges, rules, by_length, span) for span in spans])
    with_uses = rules.weights.used_before * limits.uses.before[supply.sources]
    worth = alone + gains[:, None] + with_uses
    touched = {span.start for span in spans} & {span.end for span in spans}
    least = np.array([_saved(stretches, edges, span, touched) for span in spans]) - EQUAL
    rows, moments = np.nonzero(worth < least[:, None])
    if len(rows) > MOST:  # each span is left with its best moments
        each = max(1, MOST // len(spans))
        best = np.sort(np.argpartition(worth, each - 1, axis=1)[:, :each], axis=1)
        kept, place = np.nonzero(np.take_along_axis(worth, best, axis=1) < least[:, None])
        rows, moments = kept, best[kept, place]
    if not len(rows):
        return ()
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - it takes long to load

    starts = np.array([spans[row].start for row in rows.tolist()], dtype=np.int64)
    ends = np.array([spans[row].end for row in rows.tolist()], dtype=np.int64)
    met = [
        meeting
        for stretch, own in zip(stretches, edges, strict=True)
        for meeting in meetings(stretch, rules, own, starts, ends)
    ]
    sets = _limits(rules, limits, starts, ends, supply.sources[moments]) + _alike(supply, moments, starts, ends)
    table, most = _table(sets, met, len(rows))
    whole = np.concatenate((np.ones(len(rows), np.int64), np.zeros(len(met), np.int64)))
    with nothing_printed():
        found = milp(
            np.concatenate((worth[rows, moments], [meeting.cost for meeting in met])),
            constraints=LinearConstraint(table, -np.inf, most),
            integrality=whole,
            bounds=Bounds(0, 1),
            options={"node_limit": NODES, "mip_rel_gap": NEAR},
        )
    if found.x is None:
        return ()
    taken = np.flatnonzero(found.x[: len(rows)] > 0.5).tolist()
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


def _gain(
    stretches: Sequence[Stretch], edges: Sequence[Edges], rules: Frames, by_length: Array, span: Span
) -> float:
    """What a shot costs here more than open picture, whatever fills it; infinite where none may lie."""
    stretch, own = _place_of(stretches, edges, span)
    first, last = span.start - stretch.span.start, span.end - stretch.span.start
    if span.length > rules.shot_max and stretch.cuts_before[last] - stretch.cuts_before[first] < 2:
        return float("inf")
    covered = stretch.cover_sum[last] - stretch.cover_sum[first]
    opened = stretch.open_sum[last] - stretch.open_sum[first]
    return float(by_length[span.length] + covered - opened + own.begins[first] + own.ends[last])


def _saved(
    stretches: Sequence[Stretch], edges: Sequence[Edges], span: Span, touched: Container[int]
) -> float:
    """The most that a shot may save of what its ends cost, where others touch it."""
    stretch, own = _place_of(stretches, edges, span)
    at = [frame - stretch.span.start for frame in (span.start, span.end) if frame in touched]
    return float(own.begins[at].sum() + own.after[at].sum())


def _place_of(
    stretches: Sequence[Stretch], edges: Sequence[Edges], span: Span
) -> tuple[Stretch, Edges]:
    return next(pair for pair in zip(stretches, edges, strict=True) if pair[0].span.covers(span))


Row = tuple[Numbers, Array]
"""Columns of a row, and what each takes of the one that there is."""


def _one_of(columns: Numbers) -> Row:
    return columns, np.ones(len(columns))


def _limits(rules: Frames, limits: Limits, starts: Numbers, ends: Numbers, sources: Numbers) -> list[Row]:
    """One picture at a time, and what every source can give."""
    sets = [_one_of(np.flatnonzero((starts <= at) & (at < ends))) for at in np.unique(starts).tolist()]
    for source in np.unique(sources).tolist():
        own = sources == source
        columns = np.flatnonzero(own)
        # As parts of what there is: the solver's tolerances are meant for numbers near one.
        sets.append((columns, (ends - starts)[columns] / limits.frames[source]))
        for at in np.unique(starts[own]).tolist():
            sets.append(_one_of(np.flatnonzero(own & (starts <= at) & (at < ends + rules.reuse_after))))
    return sets


def _alike(supply: Supply, moments: Numbers, starts: Numbers, ends: Numbers) -> list[Row]:
    """Where shots touch, of those of one source, or of one size and with one subject, one at most."""
    kinds: defaultdict[object, list[int]] = defaultdict(list)
    for column, number in enumerate(moments.tolist()):
        moment = supply.moments[number]
        kinds[moment.source].append(column)
        for subject in moment.subjects:
            kinds[moment.size, subject].append(column)
    sets: list[Row] = []
    for columns in kinds.values():
        own = np.array(columns, dtype=np.int64)
        begins, stops = starts[own], ends[own]
        touched = np.intersect1d(begins, stops).tolist()
        sets += [_one_of(own[(begins == at) | (stops == at)]) for at in touched]
    return sets


def _table(sets: list[Row], met: Sequence[Meeting], many: int) -> tuple[csr_array, Array]:
    """The rows: (rows, columns), and how much each allows. What shots cost that meet comes after them."""
    from scipy.sparse import csr_array  # noqa: PLC0415

    most = [1.0] * len(sets)
    for number, meeting in enumerate(met, start=many):
        last, first = meeting.before, meeting.after
        if meeting.cost > 0:  # it is paid where both are there
            both, own = np.concatenate((last, first)), np.ones(len(last) + len(first))
            sets.append((np.append(both, number), np.append(own, -1.0)))
            most.append(1.0)
            continue
        for side in (last, first):  # it is saved only where both are
            sets.append((np.append(side, number), np.append(-np.ones(len(side)), 1.0)))
            most.append(0.0)
    heads = np.concatenate(([0], np.cumsum([len(columns) for columns, _ in sets])))
    columns, values = (np.concatenate(parts) for parts in zip(*sets, strict=True))
    return csr_array((values, columns, heads), shape=(len(sets), many + len(met))), np.array(most)
