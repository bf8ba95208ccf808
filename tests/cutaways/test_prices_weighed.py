"""Prices have a slope of the bound, and the boundaries that are worth a look are among those looked at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.boundaries import boundaries_of
from mltassist.cutaways.planner.bounds import Prices
from mltassist.cutaways.planner.costs import find_first_looks, stretches_of
from mltassist.cutaways.planner.film import Moment
from mltassist.frames import Span
from tests.cutaways.films import task_of
from tests.cutaways.test_plan_exact import RULES, laid_films, supplies, words
from tests.cutaways.test_sequences import random_prices, searched
from tests.cutaways.test_spans import tiny_films


@settings(max_examples=12, deadline=None)
@given(film=laid_films(), supply=supplies(4, (0, 4, 20)), said=words, seed=st.integers(0, 99))
def test_no_prices_bound_more_than_the_slope_at_others_tells(film, supply, said, seed):
    """What sequences cost less what limits earn is a concave function of the prices; so are its slopes."""
    assume(supply)
    task = replace(film, supply=supply, words=said)
    sequences, priced, sources = searched(task, replace(RULES, reuse_after=4))

    def bound(prices: Prices) -> tuple[float, Prices]:
        path = sequences.cheapest(priced.entry(prices))
        return path.cost - priced.earned(prices), priced.used(path)

    one, other = (random_prices(priced, sources, seed + by) for by in (0, 1000))
    here, used = bound(one)
    whole = Prices(*(np.full_like(part, 1e-12) for part in (one.use, one.point, one.length, one.weighed)))
    slope = priced.slope(one.plus(whole, 1.0), used)  # no price is nothing: no part is left out
    assert bound(other)[0] <= here + slope.along(other.plus(one, -1.0)) + 1e-6


def test_of_the_ways_to_weigh_lengths_those_most_overdrawn_are_followed():
    """Two shots of five frames of a clip of eight; of another source nothing is asked."""
    supply = tuple(Moment(f"/{n}.mov", Span(0, 8), "", "WS", (f"thing{n}",)) for n in range(2))
    task = replace(task_of(("ines", 40), cuts=(10, 30), sound_edits=()), supply=supply)
    sequences, priced, sources = searched(task, replace(RULES, reuse_after=4))
    path = sequences.cheapest(priced.entry(priced.begin(np.array([0.0, 1e6]))))
    none = priced.begin(np.zeros(sources))
    used = priced.used(replace(path, shots=((Span(8, 13), 0), (Span(28, 33), 0))))
    slope = priced.slope(none, used)
    over = used.weighed - 1
    assert slope.weighed.max() == pytest.approx(over.max())
    assert over.max() > 0.05
    assert (slope.weighed[over < over.max() - 1e-9] == 0).all()
    # Once it has a price a way is followed down, too.
    nothing = priced.used(replace(path, shots=()))
    paid = replace(none, weighed=np.ones_like(none.weighed))
    assert (priced.slope(paid, nothing).weighed == -1).all()
    assert not priced.slope(none, nothing).weighed.any()


@settings(max_examples=30, deadline=None)
@given(film=tiny_films(), every=st.integers(1, 9))
def test_where_a_first_look_begins_and_ends_is_looked_at(film, every):
    looks = find_first_looks(film, RULES)
    for stretch in stretches_of(film, RULES):
        kept = set((boundaries_of(stretch, every) + stretch.span.start).tolist())
        assert {stretch.span.start, stretch.span.end} <= kept
        assert {*range(stretch.span.start, stretch.span.end, every)} <= kept
        assert {view.span.start for view in film.views if view.span.start in stretch.span} <= kept
        narrated = [*film.narration, *film.holes]
        for look in looks.values():
            if stretch.span.covers(look) and not any(one.overlaps(look) for one in narrated):
                assert {look.start, look.end} <= kept
