"""Sequences of shots: never above what a plan costs, the same from both ends, and nothing good is dropped."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.bounds import Limits, Priced, Prices
from mltassist.cutaways.planner.costs import stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames, Moment, Voice
from mltassist.cutaways.planner.objective import division_cost, filling_cost, plan_cost
from mltassist.cutaways.planner.paths import Path
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.cutaways.planner.prices import source_uses
from mltassist.cutaways.planner.ranges import Highest
from mltassist.cutaways.planner.sequences import Sequences
from mltassist.cutaways.planner.shots import Shot
from mltassist.cutaways.planner.supply import supply_of
from mltassist.cutaways.planner.words import Matcher
from mltassist.frames import Span
from tests.bench.test_cover_plans import RULES as ORDINARY
from tests.bench.test_cover_plans import film
from tests.cutaways.films import task_of
from tests.cutaways.test_plan_exact import RULES, supplies, words
from tests.cutaways.test_spans import tiny_films

pytestmark = pytest.mark.usefixtures("closely")


@given(
    values=st.lists(st.lists(st.integers(0, 9), min_size=2, max_size=2), min_size=1, max_size=40),
    data=st.data(),
)
def test_the_highest_of_a_stretch_is_found_without_going_through_it(values, data):
    table = np.array(values, float)
    end = data.draw(st.integers(1, len(table)))
    firsts = sorted(data.draw(st.sets(st.integers(0, end - 1), min_size=1)))
    found = Highest(table).between(np.array(firsts), end)
    assert np.array_equal(found, [table[first:end].max(axis=0) for first in firsts])


def searched(task: CoverTask, rules: Frames) -> tuple[Sequences, Priced, int]:
    supply = supply_of(task)
    subjects = [moment.subjects for moment in supply.moments]
    matcher = Matcher(task.words, subjects) if task.words else None
    sequences = Sequences(task, rules, supply, matcher)
    uses = source_uses(task, rules, supply)
    return sequences, Priced(sequences, supply, Limits.of(task, rules, supply, uses)), len(uses.most)


@pytest.mark.parametrize(("who", "shown"), [("tobias", False), ("ines", True)])
def test_no_sequence_shows_somebody_while_another_speaks(who, shown):
    moment = Moment("/c0.mov", Span(0, 9), "", "WS", ("wheel",), 1.0, ("ines",))
    # Somebody speaks over the whole film but its last frame, in which no shot has room.
    task = replace(task_of(("ines", 18), cuts=(9,)), supply=(moment,), voices=(Voice(Span(0, 17), (who,)),))
    sequences, priced, sources = searched(task, RULES)
    path = sequences.cheapest(priced.entry(priced.begin(np.zeros(sources))))
    assert bool(path.shots) is shown


def random_prices(priced: Priced, sources: int, seed: int) -> Prices:
    draw = np.random.default_rng(seed)
    none = priced.begin(np.zeros(sources))
    return Prices(
        draw.uniform(0, 5, sources) * draw.integers(0, 2, sources),
        draw.uniform(0, 5, none.point.shape) * draw.integers(0, 2, none.point.shape),
        draw.uniform(0, 3, sources) * draw.integers(0, 2, sources),
        draw.uniform(0, 3, none.weighed.shape) * draw.integers(0, 2, none.weighed.shape),
    )


def laid(task: CoverTask, path: Path) -> tuple[Shot, ...]:
    """The shots of a path with their words; their first frames play no part here."""
    moments = supply_of(task).moments
    matcher = Matcher(task.words, [moment.subjects for moment in moments]) if task.words else None
    return tuple(
        Shot(
            span,
            moments[number],
            moments[number].span.start,
            matcher.match(moments[number].subjects, span, RULES.match_reach) if matcher else None,
        )
        for span, number in path.shots
    )


@settings(max_examples=40, deadline=None)
@given(film=tiny_films(), supply=supplies(4, (0, 4, 20)), said=words, seed=st.integers(0, 99))
def test_a_sequence_costs_no_more_than_any_plan_at_any_prices(film, supply, said, seed):
    assume(supply)
    task = replace(film, supply=supply, words=said)
    plan = plan_cover(task, RULES)
    sequences, priced, sources = searched(task, RULES)
    prices = random_prices(priced, sources, seed)
    for _ in range(3):
        entry = priced.entry(prices)
        path = sequences.cheapest(entry)
        assert path.cost - priced.earned(prices) <= plan.cost + 1e-6
        # What is dropped can be part of no plan as good as this one; what is left is found again.
        sequences.drop(entry, plan.cost + priced.earned(prices) + 1e-6)
        if path.cost - priced.earned(prices) <= plan.cost:
            assert sequences.cheapest(priced.entry(prices)).cost == pytest.approx(path.cost)
        if not sequences.watch(path):
            prices = random_prices(priced, sources, seed + 1)


@settings(max_examples=40, deadline=None)
@given(film=tiny_films(), supply=supplies(4), said=words)
def test_what_a_sequence_costs_is_the_sum_of_its_shots(film, supply, said):
    assume(supply)
    weights = replace(RULES.weights, used_before=0.0)
    rules = replace(RULES, weights=weights)
    task = replace(film, supply=supply, words=said)
    sequences, priced, sources = searched(task, rules)
    path = sequences.cheapest(priced.entry(priced.begin(np.zeros(sources))))
    while sequences.watch(path):
        path = sequences.cheapest(priced.entry(priced.begin(np.zeros(sources))))
    shots = laid(task, path)
    cost = division_cost(stretches_of(task, rules), rules, [shot.span for shot in shots]) + filling_cost(
        task, rules, shots
    )
    assert path.cost == pytest.approx(cost)


def test_a_film_of_ordinary_supply_is_proven_nearer_and_planned_no_worse():
    task = film(1, 1, cuts_a_minute=6, moments=24)
    quick, close = plan_cover(task, ORDINARY), plan_cover(task, ORDINARY, closely=True)
    assert quick.bound < close.bound <= close.cost <= quick.cost
    assert close.cost == pytest.approx(plan_cost(task, ORDINARY, close.shots))


@settings(max_examples=10, deadline=None)
@given(film=tiny_films(), supply=supplies(4), said=words, data=st.data())
def test_sequences_of_some_frames_hold_what_is_held_and_come_back(film, supply, said, data):
    assume(supply and any(view.who is not None for view in film.views))
    task = replace(film, supply=supply, words=said)
    sequences, priced, sources = searched(task, RULES)
    none = priced.begin(np.zeros(sources))
    frames, whole = sequences.frames, sequences.cheapest(priced.entry(none))
    some = np.array(data.draw(st.lists(st.sampled_from(frames.tolist()))), dtype=np.int64)
    sequences.of(some, {})
    path = sequences.cheapest(priced.entry(none))
    assert path.cost >= whole.cost - 1e-9
    known = {*some.tolist(), *(e for v in film.views for e in (v.span.start, v.span.end))}
    assert {edge for span, _ in path.shots for edge in (span.start, span.end)} <= known
    # What is held at a price that nothing outweighs stays, and costs nothing where it is kept.
    edges = np.array([edge for span, _ in whole.shots for edge in (span.start, span.end)], dtype=np.int64)
    sequences.of(edges, dict.fromkeys(whole.shots, 1e7))
    held = sequences.cheapest(priced.entry(none))
    assert set(held.shots) == set(whole.shots)
    assert held.cost == pytest.approx(whole.cost, abs=1e-6)
    sequences.of(frames, {})
    assert sequences.cheapest(priced.entry(none)).cost == pytest.approx(whole.cost)
