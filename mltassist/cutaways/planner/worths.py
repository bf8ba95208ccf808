"""Prices on what clips can give, from a linear program over shots that are known to be good.

Where clips are so short that places stay bare, a clip is worth what a bare place costs, which is far from
where prices begin. The program lays parts of shots, as much of each as saves most; what one more use, frame
or free place of a clip would save is its price. Shots that are cheap at these prices are taken in, and it is
asked again. (Column generation, as in Dantzig and Wolfe 1960, with the duals of HiGHS; from memory.)
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from mltassist.cutaways.planner.bounds import EACH, Ascent, Limits, Priced, Prices
from mltassist.cutaways.planner.columns import (
    Columns,
    Row,
    alike_apart,
    frames_shown,
    one_picture,
    table_of,
    used,
    weighed,
)
from mltassist.cutaways.planner.costs import Array
from mltassist.cutaways.planner.openings import Numbers
from mltassist.cutaways.planner.packing import nothing_printed
from mltassist.cutaways.planner.paths import Path
from mltassist.cutaways.planner.sequences import Sequences
from mltassist.cutaways.planner.stoppable import stoppable
from mltassist.cutaways.planner.supply import Supply
from mltassist.frames import Span

ROUNDS = 16
"""Times at most that shots are taken in."""
STALE = 5
"""Times in a row without a better bound after which none is looked for."""
PART = 0.5
"""Of the way from the best prices to those of the program, which knows too little to be followed further (the
in-out method, as in Ben-Ameur and Neto 2007; from memory)."""
FAR = 0.2
"""Distance to the bound, as a part of the cost, at which places stay bare: tastes are nothing beside it."""
OVER = 1e-6
"""More than a clip gives, as a part of it, by which a way to weigh lengths is of use."""
_ALL, _FEW = 6000, 1200
"""Columns of the program after which no more are taken in; those that are left for a plan of whole shots."""


def known_good(
    sequences: Sequences,
    priced: Priced,
    ascent: Ascent,
    cost: float,
    known: set[Span],
    *,
    columns: Callable[[list[Span]], Columns | None],
    prices: Callable[[Columns], tuple[Prices, Array] | None],
    work: float,
) -> Columns | None:
    """The shots that a plan is most likely made of; an ascent is led to the best prices on the way.

    cost: of the best plan known; known: spans to begin with, to which others are added. columns, prices: of
    spans, and of columns. work: shots and states that are gone through.
    """
    stale = 0
    found: Columns | None = None
    slack = np.zeros(0)

    def cheapest() -> tuple[Path, float]:
        path = sequences.cheapest(priced.entry(ascent.prices))
        return path, path.cost - priced.earned(ascent.prices)

    # Those that it begins with know of repeated subjects and sizes, the program does not.
    path, least = cheapest()
    known.update(span for span, _ in path.shots)
    part = PART if cost - least < FAR * cost else 1.0
    if part < 1.0:  # otherwise they are worth nothing, and the program's come to be better only slowly
        ascent.weigh(least, cost)
    for _ in range(ROUNDS):
        found = columns(sorted(known))
        told = None if found is None else prices(found)
        if found is None or told is None:
            return found
        (exact, slack), before = told, ascent.bound
        ascent.prices = ascent.best.plus(ascent.best, -part).plus(exact, part)
        work -= sequences.size + EACH * sequences.boundaries
        path, least = cheapest()
        ascent.weigh(least, cost)
        stale = 0 if ascent.bound > before else stale + 1
        fresh = {span for span, _ in path.shots} - known
        watched = sequences.watch(path)
        if work < 0 or stale == STALE or len(found.spans) > _ALL or not (fresh or watched):
            break
        known |= fresh
    if found is None or len(found.spans) <= _FEW:
        return found
    return found.of(np.sort(np.argsort(slack, kind="stable")[:_FEW]))


def prices_of(
    columns: Columns, supply: Supply, limits: Limits, ways: set[int]
) -> tuple[Prices, Array] | None:
    """The prices at which these columns are worth what they save, and what each saves less than it pays.

    None where the solver finds none. ways: of weighing lengths that the program knows; those that it would
    have needed are added for the next time, since it is far quicker without all the others.
    """
    from scipy.optimize import linprog  # noqa: PLC0415 - it takes long to load
    from scipy.sparse import block_array  # noqa: PLC0415

    shown, points = frames_shown(columns, limits.frames), _points(columns, limits)
    every = weighed(columns, limits)
    told = [row for row in every if row[0] in ways]
    sets: list[Row] = one_picture(columns) + alike_apart(supply, columns)
    parts = np.cumsum([len(sets), len(shown), len(points)])
    sets += [row for _, row in shown] + [row for _, _, row in points] + [row for _, row in told]
    table, most = table_of(sets, columns)
    # A source is used as often as its uses are paid for, each further one for more.
    drawn, paid, of_uses = used(columns, limits.uses)
    rows: Any = block_array([[table, None], [drawn, paid]], format="csr")
    costs = np.concatenate((columns.costs, [meeting.cost for meeting in columns.met], of_uses))
    with nothing_printed():
        found = stoppable(
            lambda: linprog(
                costs,
                A_ub=rows,
                b_ub=np.concatenate((most, np.zeros(drawn.shape[0]))),
                bounds=(0, 1),
                method="highs",
            )
        )
    if found.x is None:
        return None
    saved = np.maximum(0.0, -found.ineqlin.marginals)
    uses, many = limits.uses, len(limits.frames)
    prices = Prices(
        # What every use before this film costs is part of a use's price.
        saved[table.shape[0] :] + uses.each * uses.before,
        np.zeros((many, limits.points)),
        np.zeros(many),
        np.zeros(len(limits.weighed)),
    )
    for (source, _), own in zip(shown, saved[parts[0] :], strict=False):
        prices.length[source] = own * limits.ideal / limits.frames[source]
    for (source, at, _), own in zip(points, saved[parts[1] :], strict=False):
        prices.point[source, at] += own
    for (way, _), own in zip(told, saved[parts[2] :], strict=False):
        prices.weighed[way] = own
    ways.update(way for way, (own, weights) in every if found.x[own] @ weights > 1 + OVER)
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
