"""Shots that may be laid where there are too few clips, as the columns of a linear program, and its rows.

A column is one span filled by one moment; more columns tell what two shots cost beside each other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from mltassist.cutaways.planner.bounds import Limits
from mltassist.cutaways.planner.costs import Array, Stretch, length_costs, stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames
from mltassist.cutaways.planner.fitting import COMBINATIONS, combinations, counted
from mltassist.cutaways.planner.meetings import Edges, Meeting, edges_of, meetings
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.prices import Uses
from mltassist.cutaways.planner.shots import alone_costs
from mltassist.cutaways.planner.supply import Supply
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span

if TYPE_CHECKING:
    from scipy.sparse import csr_array

MOST_CANDIDATES = 8000
"""Of more the solver makes minutes: a long film with few clips has tens of thousands."""
_EQUAL = 1e-9
Row = tuple[Numbers, Array]
"""Columns of a row, and what each takes of the one that there is."""


@dataclass(frozen=True, slots=True)
class Columns:
    """Shots by their columns.

    costs: what each costs more than open picture; met: what they cost more beside each other.
    """

    spans: tuple[Span, ...]
    moments: Numbers
    sources: Numbers
    starts: Numbers
    ends: Numbers
    costs: Array
    met: tuple[Meeting, ...]

    def of(self, kept: Numbers) -> Columns:
        """Only these columns, which are in order."""
        met = []
        for one in self.met:
            sides = (np.searchsorted(kept, side[np.isin(side, kept)]) for side in (one.before, one.after))
            before, after = sides
            if len(before) and len(after):
                met.append(Meeting(before, after, one.cost))
        return Columns(
            tuple(self.spans[column] for column in kept.tolist()),
            self.moments[kept],
            self.sources[kept],
            self.starts[kept],
            self.ends[kept],
            self.costs[kept],
            tuple(met),
        )


def columns_of(
    task: CoverTask,
    rules: Frames,
    supply: Supply,
    limits: Limits,
    matcher: Matcher | None,
    *,
    spans: Sequence[Span],
) -> Columns | None:
    """What of these spans and all moments may be worth a shot; None where nothing is."""
    if not spans or not supply.moments:
        return None
    alone = alone_costs(rules, supply, spans, matcher)
    by_length, stretches = length_costs(rules), stretches_of(task, rules)
    edges = [edges_of(stretch, rules) for stretch in stretches]
    gains = np.array([_gain(stretches, edges, rules, by_length, span) for span in spans])
    with_uses = rules.weights.used_before * limits.uses.before[supply.sources]
    worth = alone + gains[:, None] + with_uses
    touched = {span.start for span in spans} & {span.end for span in spans}
    least = np.array([_saved(stretches, edges, span, touched) for span in spans]) - _EQUAL
    rows, moments = np.nonzero(worth < least[:, None])
    if len(rows) > MOST_CANDIDATES:  # each span is left with its best moments
        each = max(1, MOST_CANDIDATES // len(spans))
        best = np.sort(np.argpartition(worth, each - 1, axis=1)[:, :each], axis=1)
        kept, place = np.nonzero(np.take_along_axis(worth, best, axis=1) < least[:, None])
        rows, moments = kept, best[kept, place]
    if not len(rows):
        return None
    taken = tuple(spans[row] for row in rows.tolist())
    starts = np.array([span.start for span in taken], dtype=np.int64)
    ends = np.array([span.end for span in taken], dtype=np.int64)
    met = tuple(
        meeting
        for stretch, own in zip(stretches, edges, strict=True)
        for meeting in meetings(stretch, rules, own, starts, ends)
    )
    sources = supply.sources[moments]
    return Columns(taken, moments, sources, starts, ends, worth[rows, moments], met)


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


def _place_of(stretches: Sequence[Stretch], edges: Sequence[Edges], span: Span) -> tuple[Stretch, Edges]:
    return next(pair for pair in zip(stretches, edges, strict=True) if pair[0].span.covers(span))


def _one_of(columns: Numbers) -> Row:
    return columns, np.ones(len(columns))


def one_picture(columns: Columns) -> list[Row]:
    """At every frame where a shot begins there is one at most."""
    starts, ends = columns.starts, columns.ends
    return [_one_of(np.flatnonzero((starts <= at) & (at < ends))) for at in np.unique(starts).tolist()]


def frames_shown(columns: Columns, frames: Array) -> list[tuple[int, Row]]:
    """For each source, by its number: no more of its frames are shown than there are."""
    found = []
    for source in np.unique(columns.sources).tolist():
        own = np.flatnonzero(columns.sources == source)
        # As parts of what there is: the solver's tolerances are meant for numbers near one.
        found.append((source, (own, (columns.ends - columns.starts)[own] / frames[source])))
    return found


def weighed(columns: Columns, limits: Limits) -> list[tuple[int, Row]]:
    """For each way of weighing lengths, by its number: what shots of one clip weigh together."""
    found = []
    for way, source in enumerate(limits.weighed_of.tolist()):
        own = np.flatnonzero(columns.sources == source)
        weights = limits.weighed[way, (columns.ends - columns.starts)[own]]
        if len(own) > 1 and weights.any():
            found.append((way, (own[weights > 0], weights[weights > 0])))
    return found


def fitted(columns: Columns, limits: Limits, left: int = COMBINATIONS) -> tuple[csr_array, csr_array, Array]:
    """Rows by which the lengths of a clip's shots are some that fit together: one choice for each clip.

    Given are the rows over shots, those over choices, and how much each row allows. left: choices at most.
    """
    from scipy.sparse import block_diag, csr_array, vstack  # noqa: PLC0415

    lengths = columns.ends - columns.starts
    width = len(lengths) + len(columns.met)
    over_shots, choices, most = [csr_array((0, width))], list[Array](), list[Array]()
    for source in np.unique(columns.sources).tolist():
        own = np.flatnonzero(columns.sources == source)
        known, uses, frames = np.unique(lengths[own]), int(limits.uses.most[source]), limits.frames[source]
        if known[-1] * min(uses, len(own)) <= frames:
            continue
        combined = combinations(known.tolist(), int(frames), uses, left)
        if not combined:
            continue
        left -= len(combined)
        place, column = np.nonzero(lengths[own][None, :] >= known[:, None])
        shape = (len(known) + 1, width)
        over_shots.append(csr_array((np.ones(len(place)), (place, own[column])), shape=shape))
        choices.append(np.vstack((-counted(known, combined), np.ones(len(combined)))))
        most.append(np.append(np.zeros(len(known)), 1.0))
    together = csr_array(block_diag(choices)) if choices else csr_array((0, 0))
    return vstack(over_shots, format="csr"), together, np.concatenate((*most, np.zeros(0)))


def rested(columns: Columns, rest: int) -> list[Row]:
    """Of one source no two shots lie or rest at one frame."""
    sets: list[Row] = []
    for source in np.unique(columns.sources).tolist():
        own = columns.sources == source
        for at in np.unique(columns.starts[own]).tolist():
            sets.append(_one_of(np.flatnonzero(own & (columns.starts <= at) & (at < columns.ends + rest))))
    return sets


def alike_apart(supply: Supply, columns: Columns) -> list[Row]:
    """Where shots touch, of those of one source, or of one size and with one subject, one at most."""
    kinds: defaultdict[object, list[int]] = defaultdict(list)
    for column, number in enumerate(columns.moments.tolist()):
        moment = supply.moments[number]
        kinds[moment.source].append(column)
        for subject in moment.subjects:
            kinds[moment.size, subject].append(column)
    sets: list[Row] = []
    for numbers in kinds.values():
        own = np.array(numbers, dtype=np.int64)
        begins, stops = columns.starts[own], columns.ends[own]
        touched = np.intersect1d(begins, stops).tolist()
        sets += [_one_of(own[(begins == at) | (stops == at)]) for at in touched]
    return sets


def used(columns: Columns, uses: Uses) -> tuple[csr_array, csr_array, Array]:
    """Rows that say how often each source is used; what each further use costs has columns of its own.

    Given are the rows over shots, those over uses, and what each of these costs.
    """
    from scipy.sparse import csr_array  # noqa: PLC0415 - it takes long to load

    many, most = len(columns.spans), uses.most.tolist()
    width = many + len(columns.met)
    each = [(source, use) for source, several in enumerate(most) for use in range(several)]
    drawn = csr_array((np.ones(many), (columns.sources, np.arange(many))), shape=(len(most), width))
    paid = csr_array(
        (-np.ones(len(each)), ([source for source, _ in each], np.arange(len(each)))),
        shape=(len(most), len(each)),
    )
    return drawn, paid, np.array([uses.each * use for _, use in each])


def table_of(sets: Sequence[Row], columns: Columns) -> tuple[csr_array, Array]:
    """The rows of these sets, and how much each allows; behind them those of what shots cost that meet.

    What they cost that meet has columns of its own, behind those of the shots.
    """
    from scipy.sparse import csr_array  # noqa: PLC0415

    met, many = columns.met, len(columns.spans)
    sets, most = list(sets), [1.0] * len(sets)
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
    heads = np.concatenate(([0], np.cumsum([len(places) for places, _ in sets])))
    places, values = (np.concatenate(parts) for parts in zip(*sets, strict=True))
    return csr_array((values, places, heads), shape=(len(sets), many + len(met))), np.array(most)
