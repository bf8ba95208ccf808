"""Five hundred small films, with short supply, holes and stretches that stay: none has a cheaper plan.

Run by name only: pytest tests/bench/test_plan_exact_many.py. The reference tries every plan there is
(`tests/cutaways/test_plan_exact.py`, of which the suite runs a part).
"""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.cutaways.test_plan_exact import assert_that_no_plan_costs_less, supplies, words
from tests.cutaways.test_spans import tiny_films


@settings(max_examples=500, deadline=None, derandomize=True)
@given(film=tiny_films(), supply=supplies(4, (0, 4, 20)), said=words, rest=st.sampled_from([0, 4]))
def test_no_plan_of_five_hundred_small_films_costs_less(film, supply, said, rest):
    assert_that_no_plan_costs_less(film, supply, said, rest)
