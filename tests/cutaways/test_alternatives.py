"""Other clips for every shot: each for its own place, none beside its own subject, the cheapest first."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.film import Moment
from mltassist.cutaways.planner.objective import filling_cost
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.frames import Span
from tests.cutaways.films import RULES, clips, task_of

TASK = task_of(("ines", 3000), cuts=tuple(range(300, 2900, 350)))


def frames_of(shot) -> Span:
    return Span(shot.source_in, shot.source_in + shot.span.length)


@pytest.mark.parametrize("supply", [12, 20, 40])
def test_no_two_places_are_offered_the_same_frames_and_none_its_neighbours_subject(supply: int) -> None:
    moments = [replace(m, subjects=(f"subject {n % 6}",)) for n, m in enumerate(clips(supply))]
    plan = plan_cover(replace(TASK, supply=tuple(moments)), RULES, alternatives=2)
    assert len(plan.shots) == 8
    offered = [other for others in plan.others for other in others]
    assert all(len(others) == 2 for others in plan.others) or supply == 12
    for one, other in permutations(offered, 2):
        if one.moment.source == other.moment.source:
            assert not frames_of(one).overlaps(frames_of(other))
    for place, others in enumerate(plan.others):
        near = [plan.shots[n] for n in (place - 1, place + 1) if 0 <= n < len(plan.shots)]
        for other in others:
            assert other.moment.source != plan.shots[place].moment.source
            assert not any(set(other.moment.subjects) & set(shot.moment.subjects) for shot in near)
    if supply == 40:
        first = [others[0].moment.source for others in plan.others]
        assert len(set(first)) == len(first)


@settings(max_examples=40, deadline=None)
@given(worth=st.lists(st.sampled_from([0.1, 0.4, 0.7, 1.0]), min_size=6, max_size=6))
def test_all_first_alternatives_together_cost_as_little_as_any(worth: list[float]) -> None:
    """Against every choice of one clip a place, each clip once, by the planner's own sum."""
    supply = tuple(
        Moment(f"/{n}.mov", Span(0, 160), "", ("WS", "CU")[n % 2], (f"thing {n}",), w)
        for n, w in enumerate(worth)
    )
    task = replace(task_of(("ines", 900), cuts=(300, 600)), supply=supply)
    plan = plan_cover(task, RULES, alternatives=1)
    assert len(plan.shots) == 2
    own = {shot.moment.source for shot in plan.shots}

    def cost(chosen: tuple[Moment, ...]) -> float:
        """Each clip in its place while the other shot stays."""
        total = 0.0
        for place, moment in enumerate(chosen):
            shots = list(plan.shots)
            shots[place] = replace(shots[place], moment=moment)
            total += filling_cost(task, RULES, shots)
        return total

    ways = [
        way for way in product(supply, repeat=2) if way[0] != way[1] and not own & {m.source for m in way}
    ]
    ours = tuple(offered[0].moment for offered in plan.others)
    assert cost(ours) == pytest.approx(min(cost(way) for way in ways))
