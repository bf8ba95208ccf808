"""The division of a film into shots and open picture against all divisions there are.

The costs are written a second time here, part by part from the rules, and summed over a whole
division; nothing of the planner but its figures is used.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mltassist.frames import Span
from mltassist.plan import spans
from mltassist.plan.film import CoverTask, Frames, JumpCut
from mltassist.plan.spans import divide, find_first_looks, open_stretches
from tests.plan.films import RULES, TINY, task_of, views_of


def divisions(start: int, end: int, rules: Frames, after_open: bool = False) -> Iterator[list[Span]]:
    """Every list of shots in [start, end) whose lengths are allowed, the rest left open."""
    if start == end:
        yield []
        return
    for length in range(rules.shot_min, min(rules.shot_span_max, end - start) + 1):
        for rest in divisions(start + length, end, rules):
            yield [Span(start, start + length), *rest]
    if not after_open:
        for until in range(start + 1, end + 1):
            for rest in divisions(until, end, rules, after_open=True):
                if not rest or rest[0].start == until:
                    yield rest


def boundary_cost(task: CoverTask, rules: Frames, stretch: Span, at: int) -> float:
    """Cost of a picture edit of ours at `at`."""
    cost = 0.0 if any(p.start <= at <= p.end for p in task.pauses) else spans.IN_SPEECH
    cost += sum(spans.NEAR_SOUND_EDIT for edit in task.sound_edits if abs(edit - at) < rules.edge)
    for cut in task.cuts:
        if cut.at not in stretch:
            continue
        distance = abs(cut.at - at)
        if distance < rules.margin:
            cost += spans.BARE_CUT / 2
        elif distance < rules.ideal_margin:
            room = max(1, rules.ideal_margin - rules.margin)
            cost += spans.SHORT_MARGIN * (rules.ideal_margin - distance) / room
    return cost


def cost_of(task: CoverTask, rules: Frames, stretch: Span, shots: list[Span]) -> float:
    """Cost of one division, infinite where a shot is longer than it may be."""
    looks = find_first_looks(task, rules)
    cost = 0.0
    for shot in shots:
        held = sum(cut.at in shot for cut in task.cuts)
        if shot.length > rules.shot_max and held < 2:
            return float("inf")
        cost += spans.LENGTH * ((shot.length - rules.shot_ideal) / rules.shot_ideal) ** 2
        cost += spans.SPANNING * (shot.length > rules.shot_max)
    inner = {frame for shot in shots for frame in (shot.start, shot.end)} - {stretch.start, stretch.end}
    cost += sum(boundary_cost(task, rules, stretch, at) for at in inner)
    covered = {frame for shot in shots for frame in range(shot.start, shot.end)}
    for frame in range(stretch.start, stretch.end):
        who = next(view.who for view in task.views if frame in view.span)
        view = next(view for view in task.views if frame in view.span)
        look = looks.get(who or "")
        narrated = any(frame in span for span in task.narration)
        if frame in covered:
            if who and not narrated:
                cost += spans.COVER + spans.COVERED_FIRST_LOOK * bool(
                    look and frame in look and look.start in view.span
                )
            continue
        cost += spans.BARE_NARRATION * narrated
        cost += spans.EARLY_LOOK * bool(look and frame < look.start)
        cost += sum(
            spans.BARE_CUT * (0.5 + cut.unlike / 2) for cut in task.cuts if cut.at == frame
        )
    for view in task.views:
        seen = [frame for frame in range(view.span.start, view.span.end) if frame in stretch]
        if not view.who or not seen:
            continue
        for first in seen:
            if first in covered or (first > view.span.start and first - 1 not in covered):
                continue
            last = first
            while last + 1 in seen and last + 1 not in covered:
                last += 1
            ours = first - 1 in covered or last + 1 in covered
            cost += spans.SHORT_FACE * (last + 1 - first < rules.face_min and ours)
    return cost


@st.composite
def tiny_films(draw: st.DrawFn) -> CoverTask:
    parts = draw(
        st.lists(
            st.tuples(st.sampled_from(["ines", "tobias", "", None]), st.integers(1, 9)),
            min_size=1,
            max_size=5,
        ).filter(lambda found: sum(length for _, length in found) <= 18)
    )
    total = sum(length for _, length in parts)
    place = st.integers(0, total - 1)
    stretch = st.builds(lambda a, b: Span(min(a, b), max(a, b) + 1), place, place)
    return CoverTask(
        views=views_of(*parts),
        cuts=tuple(
            JumpCut(at, unlike)
            for at, unlike in draw(
                st.lists(st.tuples(place, st.sampled_from([0.0, 0.4, 1.0])), max_size=4, unique_by=lambda c: c[0])
            )
        ),
        narration=tuple(draw(st.lists(stretch, max_size=1))),
        sound_edits=tuple(draw(st.lists(st.integers(0, total), max_size=3, unique=True))),
        pauses=tuple(draw(st.lists(stretch, max_size=2))),
        supply=(),
    )


TINY_RULES = st.builds(
    replace,
    st.just(TINY),
    margin=st.integers(0, 2),
    ideal_margin=st.integers(0, 3),
    shot_min=st.integers(2, 4),
    edge=st.integers(0, 2),
    face_min=st.integers(0, 4),
    face_first=st.integers(2, 5),
)


@settings(max_examples=150, deadline=None)
@given(task=tiny_films(), rules=TINY_RULES)
@example(task=task_of(("ines", 3)), rules=replace(TINY, face_min=4))
@example(task=task_of(("ines", 16), cuts=(8,)), rules=replace(TINY, face_min=0))
@example(task=task_of(("ines", 16), cuts=(8,)), rules=replace(TINY, margin=2, ideal_margin=0))
@example(task=task_of(("", 5), ("ines", 2), ("tobias", 9), narration=((0, 5),)), rules=replace(TINY, face_min=4))
def test_no_division_costs_less_than_the_one_that_is_found(task: CoverTask, rules: Frames) -> None:
    found = divide(task, rules)
    for stretch in open_stretches(task):
        mine = [span for span in found if span.overlaps(stretch)]
        best = min(cost_of(task, rules, stretch, shots) for shots in divisions(stretch.start, stretch.end, rules))
        assert cost_of(task, rules, stretch, mine) == pytest.approx(best, abs=1e-6), (mine, stretch)
