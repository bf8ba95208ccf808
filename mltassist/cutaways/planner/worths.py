"""Prices on what clips can give, from a linear program over shots that are known to be good.

Where clips are so short that places stay bare, a clip is worth what a bare place costs, which is far from
where prices begin. The program lays parts of shots, as much of each as saves most; what one more use, frame
or free place of a clip would save is its price. Shots that are cheap at these prices are taken in, and it is
asked again. (Column generation, as in Dantzig and Wolfe 1960, with the duals of HiGHS; from memory.)
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np

from mltassist.cutaways.planner.bounds import Ascent, Limits, Priced, Prices
from mltassist.cutaways.planner.columns import (
    Columns,
    Row,
    alike_apart,
    frames_shown,
    one_picture,
    table_of,
)
from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.packing import nothing_printed
from mltassist.cutaways.planner.sequences import Sequences
from mltassist.cutaways.planner.shots import Supply
from mltassist.cutaways.planner.stoppable import stoppable
from mltassist.frames import Span

ROUNDS = 16
"""Times at most that shots are taken in."""
STALE = 5
"""Times in a row without a better bound after which none is looked for."""
_ALL, _FEW = 6000, 1200
"""Columns of the program after which no more are taken in; those that are left for a plan of whole shots."""


def known_good(
    sequences: Sequences,
    priced: Priced,
    ascent: Ascent,
    cost: float,
    spans: Iterable[Span],
    *,
    columns: Callable[[list[Span]], Columns | None],
    prices: Callable[[Columns], tuple[Prices, Array] | None],
) -> Columns | None:
    """The shots that a plan is most likely made of; an ascent is led to the best prices on the way.

    cost: of the best plan known; spans: to begin with. columns, prices: of spans, and of columns.
    """
    known, stale = set(spans), 0
    found: Columns | None = None
    slack = np.zeros(0)
    for _ in range(ROUNDS):
        found = columns(sorted(known))
        told = None if found is None else prices(found)
        if found is None or told is None:
            return found
        ascent.prices, slack = told
        path = sequences.cheapest(priced.entry(ascent.prices))
        least, before = path.cost - priced.earned(ascent.prices), ascent.bound
        ascent.weigh(least, cost)
        stale = 0 if ascent.bound > before else stale + 1
        fresh = {span for span, _ in path.shots} - known
        watched = sequences.watch(path)
        if stale == STALE or len(found.spans) > _ALL or not (fresh or watched):
            break
        known |= fresh
    if found is None or len(found.spans) <= _FEW:
        return found
    return found.of(np.sort(np.argsort(slack, kind="stable")[:_FEW]))


def prices_of(columns: Columns, supply: Supply, limits: Limits) -> tuple[Prices, Array] | None:
    """The prices at which these columns are worth what they save, and what each saves less than it pays.

    None where the solver finds none.
    """
    from scipy.optimize import linprog  # noqa: PLC0415 - it takes long to load
    from scipy.sparse import csr_array, hstack, vstack  # noqa: PLC0415

    shown, points = frames_shown(columns, limits.frames), _points(columns, limits)
    sets: list[Row] = one_picture(columns) + alike_apart(supply, columns)
    others = len(sets)
    sets += [row for _, row in shown] + [row for _, _, row in points]
    table, most = table_of(sets, columns)
    uses, each = (
        limits.uses,
        [(s, k) for s, many in enumerate(limits.uses.most.tolist()) for k in range(many)],
    )
    # A source is used as often as its uses are paid for, each further one for more.
    drawn = csr_array(
        (np.ones(len(columns.sources)), (columns.sources, np.arange(len(columns.sources)))),
        shape=(len(uses.most), table.shape[1]),
    )
    paid = csr_array(
        (-np.ones(len(each)), ([s for s, _ in each], np.arange(len(each)))), shape=(len(uses.most), len(each))
    )
    none = csr_array((table.shape[0], len(each)))
    rows: Any = vstack((hstack((table, none)), hstack((drawn, paid))))  # its types know of no sparse ones
    costs = np.concatenate(
        (columns.costs, [meeting.cost for meeting in columns.met], [uses.each * k for _, k in each])
    )
    with nothing_printed():
        found = stoppable(
            lambda: linprog(
                costs,
                A_ub=rows,
                b_ub=np.concatenate((most, np.zeros(len(uses.most)))),
                bounds=(0, 1),
                method="highs",
            )
        )
    if found.x is None:
        return None
    saved = np.maximum(0.0, -found.ineqlin.marginals)
    point, length = np.zeros((len(uses.most), limits.points)), np.zeros(len(uses.most))
    for (source, _), own in zip(shown, saved[others:], strict=False):
        length[source] = own * limits.ideal / limits.frames[source]
    for (source, at, _), own in zip(points, saved[others + len(shown) :], strict=False):
        point[source, at] += own
    # What every use before this film costs is part of a use's price.
    prices = Prices(saved[table.shape[0] :] + uses.each * uses.before, point, length)
    return prices, np.asarray(found.lower.marginals[: len(columns.spans)])


def _points(columns: Columns, limits: Limits) -> list[tuple[int, int, Row]]:
    """Source and point at which one shot of it at most lies or rests, with the columns that do."""
    first, last = limits.before(columns.starts), limits.before(columns.ends + limits.rest)
    found = []
    for source in np.unique(columns.sources).tolist():
        own = columns.sources == source
        for at in np.unique(first[own & (first < last)]).tolist():
            both: Numbers = np.flatnonzero(own & (first <= at) & (at < last))
            found.append((source, at, (both, np.ones(len(both)))))
    return found
