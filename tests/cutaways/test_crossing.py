"""Parts of other divisions: where they may be exchanged, and that the best of both is put together."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.best import Best
from mltassist.cutaways.planner.crossing import cross, differing
from mltassist.cutaways.planner.supply import supply_of
from mltassist.frames import Span
from tests.cutaways.films import clips, task_of
from tests.cutaways.test_plan_exact import RULES


def in_order(edges: list[tuple[int, int]]) -> tuple[Span, ...]:
    spans, at = list[Span](), 0
    for gap, length in edges:
        spans.append(Span(at + gap, at + gap + length))
        at = spans[-1].end
    return tuple(spans)


divisions = st.lists(st.tuples(st.sampled_from([0, 0, 1, 4]), st.integers(1, 4)), max_size=6).map(in_order)


@settings(max_examples=50, deadline=None)
@given(one=divisions, other=divisions, data=st.data())
def test_each_part_can_be_exchanged_alone(one, other, data):
    parts = list(differing(one, other))
    taken = [part for part in parts if data.draw(st.booleans())]
    crossed = {*one} - {span for own, _ in taken for span in own} | {s for _, new in taken for s in new}
    assert not any(a.overlaps(b) for a, b in pairwise(sorted(crossed)))
    every = {*one} - {span for own, _ in parts for span in own} | {s for _, new in parts for s in new}
    assert sorted(every) == list(other)
    assert all(own != new for own, new in parts)


def test_the_best_of_two_plans_is_put_together():
    """Each of them covers the cuts of one half alone."""
    task = replace(task_of(("ines", 80), cuts=(10, 20, 60, 70), sound_edits=()), supply=clips(6, 20))
    best = Best(task, RULES, supply_of(task), None, tries=1)
    first, last = (Span(8, 12), Span(18, 22)), (Span(58, 62), Span(68, 72))
    for spans in (first, last):
        best.filled(((spans[0], 0), (spans[1], 1)))
    halves = best.cost
    cross(best, [first, last])
    assert tuple(shot.span for shot in best.shots) == (*first, *last)
    assert best.cost < halves - 1000


def test_without_a_plan_or_another_division_nothing_is_exchanged():
    task = replace(task_of(("ines", 80), cuts=(10,)), supply=clips(2, 20))
    best = Best(task, RULES, supply_of(task), None, tries=1)
    cross(best, [(Span(8, 12),)])
    assert best.shots == ()
    best.filled(((Span(8, 12), 0),))
    cost = best.cost
    cross(best, [])
    cross(best, [(Span(8, 12),)])
    assert best.cost == cost
