"""Five hundred small films, with short supply, captions, holes and stays: none has a cheaper plan.

So are as many with an earlier plan, of which every shot that is given up has a price. Run by name only:
pytest tests/bench/test_plan_exact_many.py. The reference tries every plan there is
(`tests/cutaways/test_plan_exact.py`, of which the suite runs a part).
"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.plan import plan_cover
from tests.cutaways.test_plan_exact import (
    RULES,
    assert_that_no_plan_costs_less,
    laid_films,
    supplies,
    words,
)

RESTS = st.sampled_from([0, 4])
SUPPLIES = supplies(4, (0, 4, 20))


@settings(max_examples=500, deadline=None, derandomize=True)
@given(film=laid_films(), supply=SUPPLIES, said=words, rest=RESTS)
def test_no_plan_of_five_hundred_small_films_costs_less(film, supply, said, rest):
    assert_that_no_plan_costs_less(replace(film, supply=supply, words=said), rest)


@settings(max_examples=500, deadline=None, derandomize=True)
@given(film=laid_films(), supply=SUPPLIES, said=words, rest=RESTS, price=st.sampled_from([0.5, 5.0, 500.0]))
def test_none_costs_less_that_pays_for_what_it_changes(film, supply, said, rest, price):
    """The earlier plan is one of the same film without what is said and with no price on a face."""
    task = replace(film, supply=supply)
    weights = replace(RULES.weights, cover=0.0)
    earlier = plan_cover(task, replace(RULES, reuse_after=rest, weights=weights))
    assert_that_no_plan_costs_less(
        replace(task, words=said), rest, tuple((shot, price) for shot in earlier.shots)
    )
