"""The division of a film into shots and open picture against all divisions there are.

The costs are written a second time here, part by part from the rules, and summed over a whole
division; nothing of the planner but its figures is used.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from math import inf

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.costs import cost_of, find_first_looks, open_stretches, stretches_of
from mltassist.cutaways.planner.film import CoverTask, Frames, JumpCut
from mltassist.cutaways.planner.spans import Divisions
from mltassist.frames import Span, without
from mltassist.recipe.cover import Weights
from tests.cutaways.films import RULES, TINY, merged, task_of, views_of

WEIGHTS = Weights()


def divide(task: CoverTask, rules: Frames) -> tuple[Span, ...]:
    """Spans of the shots to lay, in order; touching spans are shots in sequence."""
    return next(Divisions(stretches_of(task, rules), rules)).spans


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
    cost = 0.0 if any(p.start <= at <= p.end for p in task.pauses) else WEIGHTS.in_speech
    cost += sum(WEIGHTS.near_sound_edit for edit in task.sound_edits if abs(edit - at) < rules.edge)
    cost += sum(WEIGHTS.short_margin for split in task.splits if split.start < at < split.end)
    for cut in task.cuts:
        if cut.at not in stretch:
            continue
        distance = abs(cut.at - at)
        if distance < rules.margin:
            cost += WEIGHTS.bare_cut / 2
        elif distance < rules.ideal_margin:
            room = max(1, rules.ideal_margin - rules.margin)
            cost += WEIGHTS.short_margin * (rules.ideal_margin - distance) / room
    return cost


def frame_cost(task: CoverTask, looks: dict[str, Span], frame: int, covered: bool) -> float:
    """Cost of covering one frame, or of leaving it open."""
    view = next(view for view in task.views if frame in view.span)
    look = looks.get(view.who or "")
    narrated = any(frame in span for span in (*task.narration, *task.holes, *task.splits))
    if covered:
        in_look = look is not None and frame in look and look.start in view.span
        return (WEIGHTS.cover + WEIGHTS.covered_first_look * in_look) * bool(view.who and not narrated)
    early = look is not None and frame < look.start
    bare_cuts = sum(WEIGHTS.bare_cut * (0.5 + cut.unlike / 2) for cut in task.cuts if cut.at == frame)
    return WEIGHTS.bare_narration * narrated + WEIGHTS.early_look * early + bare_cuts


def flashes(views: list[Span], shots: list[Span], least: int) -> float:
    """Cost of the looks at a face shorter than `least` that a shot of ours begins or ends."""
    edges = {shot.end for shot in shots}, {shot.start for shot in shots}
    return sum(
        WEIGHTS.short_view if look == view else WEIGHTS.short_face
        for view in views
        for look in without([view], shots)
        if look.length < least and (look.start in edges[0] or look.end in edges[1])
    )


def costing(task: CoverTask, rules: Frames, stretch: Span) -> Callable[[list[Span]], float]:
    """The cost of one division of `stretch`, infinite where a shot is longer than it may be."""
    looks = find_first_looks(task, rules)
    frames = range(stretch.start, stretch.end)
    bare = {frame: frame_cost(task, looks, frame, False) for frame in frames}
    laid = {frame: frame_cost(task, looks, frame, True) for frame in frames}
    edge = {frame: boundary_cost(task, rules, stretch, frame) for frame in frames if frame != stretch.start}
    edge |= {stretch.start: 0.0, stretch.end: 0.0}
    faces = [view.span for view in task.views if view.who and view.span.overlaps(stretch)]

    def cost(shots: list[Span]) -> float:
        total = sum(bare.values()) + flashes(faces, shots, rules.face_min)
        for shot in shots:
            if shot.length > rules.shot_max and sum(cut.at in shot for cut in task.cuts) < 2:
                return inf
            total += WEIGHTS.length * ((shot.length - rules.shot_ideal) / rules.shot_ideal) ** 2
            total += WEIGHTS.spanning * (shot.length > rules.shot_max)
            total += sum(laid[frame] - bare[frame] for frame in range(shot.start, shot.end))
        return total + sum(edge[at] for at in {at for shot in shots for at in (shot.start, shot.end)})

    return cost


@st.composite
def tiny_films(draw: st.DrawFn) -> CoverTask:
    parts = draw(
        st.lists(
            st.tuples(st.sampled_from(["ines", "tobias", "", None]), st.integers(1, 9)),
            min_size=1,
            max_size=5,
        ).filter(lambda found: sum(length for _, length in found) <= 16)
    )
    total = sum(length for _, length in parts)
    place = st.integers(0, total - 1)
    stretch = st.builds(lambda a, b: Span(min(a, b), max(a, b) + 1), place, place)
    return CoverTask(
        views=views_of(*merged(parts)),
        cuts=tuple(
            JumpCut(at, unlike)
            for at, unlike in draw(
                st.lists(
                    st.tuples(place, st.sampled_from([0.0, 0.4, 1.0])), max_size=4, unique_by=lambda c: c[0]
                )
            )
        ),
        narration=tuple(draw(st.lists(stretch, max_size=1))),
        holes=tuple(draw(st.lists(stretch, max_size=1))),
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


@settings(max_examples=120, deadline=None)
@given(task=tiny_films(), rules=TINY_RULES)
@example(task=task_of(("ines", 3)), rules=replace(TINY, face_min=4))
@example(task=task_of(("ines", 16), cuts=(8,)), rules=replace(TINY, face_min=0))
@example(
    task=task_of(("ines", 14), cuts=(7,), pauses=((6, 8),)), rules=replace(TINY, margin=2, ideal_margin=0)
)
@example(
    task=task_of(("", 5), ("ines", 2), ("tobias", 9), narration=((0, 5),)), rules=replace(TINY, face_min=4)
)
def test_no_division_costs_less_than_the_one_that_is_found(task: CoverTask, rules: Frames) -> None:
    found = divide(task, rules)
    for stretch in open_stretches(task):
        mine = [span for span in found if span.overlaps(stretch)]
        cost = costing(task, rules, stretch)
        best = min(cost(shots) for shots in divisions(stretch.start, stretch.end, rules))
        assert cost(mine) == pytest.approx(best, abs=1e-6), (mine, stretch)


@settings(max_examples=80, deadline=None)
@given(task=tiny_films(), rules=TINY_RULES)
def test_divisions_come_from_the_cheapest_on_and_cost_what_they_say(task: CoverTask, rules: Frames) -> None:
    stretches = stretches_of(task, rules)
    if len(stretches) != 1:
        return
    (stretch,) = stretches
    cost = costing(task, rules, stretch.span)
    everything = sorted(cost(shots) for shots in divisions(stretch.span.start, stretch.span.end, rules))
    possible = [one for one in everything if one < inf][:20]
    constant = float(stretch.boundary[0])  # the same for all
    found = []
    for division, _ in zip(Divisions(stretches, rules), possible, strict=False):
        inside = [span.shifted(-stretch.span.start) for span in division.spans]
        assert cost_of(stretch, rules, inside) == pytest.approx(division.cost, abs=1e-6)
        assert cost(list(division.spans)) == pytest.approx(division.cost - constant, abs=1e-6)
        found.append(division.cost - constant)
    assert found == pytest.approx(possible, abs=1e-6)


def test_a_margin_beyond_the_ideal_one_is_still_kept() -> None:
    rules = replace(RULES, margin=25, ideal_margin=5)
    (shot,) = divide(task_of(("ines", 600), cuts=(400,), pauses=((390, 411),)), rules)
    assert shot.start <= 375
    assert shot.end >= 425


def test_a_single_cut_gets_one_shot_of_ordinary_length_around_it() -> None:
    (shot,) = divide(task_of(("ines", 600), cuts=(400,)), RULES)
    assert shot.covers(Span(400 - RULES.ideal_margin, 400 + RULES.ideal_margin))
    assert RULES.shot_min <= shot.length <= RULES.shot_max


def test_shots_change_in_a_pause_of_speech() -> None:
    (shot,) = divide(task_of(("ines", 600), cuts=(400,), pauses=((361, 363), (441, 442))), RULES)
    assert 361 <= shot.start <= 363
    assert 441 <= shot.end <= 442


def test_two_cuts_near_each_other_share_a_shot_and_no_flash_of_face_is_left() -> None:
    (shot,) = divide(task_of(("ines", 900), cuts=(400, 430)), RULES)
    assert shot.covers(Span(400 - RULES.margin, 430 + RULES.margin))


def test_nothing_is_laid_where_nothing_is_to_be_hidden() -> None:
    assert divide(task_of(("ines", 500), ("tobias", 300), (None, 50), ("", 20)), RULES) == ()


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_short_look_between_our_shots_is_bridged_from_either_side(mirrored: bool) -> None:
    parts = [("", 100), ("ines", 20), ("tobias", 400)]
    narration = ((420, 520),) if mirrored else ((0, 100),)
    rules = replace(RULES, face_first=500)  # no first looks
    shots = divide(task_of(*(parts[::-1] if mirrored else parts), narration=narration), rules)
    bridged = Span(400, 420) if mirrored else Span(100, 120)
    assert not without([bridged], shots)


def test_the_first_look_is_the_earliest_long_stretch_of_face() -> None:
    task = task_of(("ines", 100), (None, 10), ("ines", 300), ("tobias", 80), cuts=(60, 200))
    looks = find_first_looks(task, RULES)
    assert looks == {"ines": Span(110, 185), "tobias": Span(410, 485)}


def test_a_first_look_does_not_lie_under_narration() -> None:
    task = task_of(("ines", 400), narration=((0, 150),))
    assert find_first_looks(task, RULES) == {"ines": Span(155, 230)}


def test_a_speaker_who_is_never_long_between_cuts_has_no_first_look() -> None:
    assert find_first_looks(task_of(("ines", 160), cuts=(80,)), RULES) == {}


def test_the_first_look_is_left_open_and_what_comes_before_is_covered() -> None:
    task = task_of(("ines", 600), cuts=(70,))
    shots = divide(task, RULES)
    look = find_first_looks(task, RULES)["ines"]
    assert look == Span(83, 158)
    assert not any(shot.overlaps(look) for shot in shots)
    assert not without([Span(0, look.start)], shots)


def test_every_least_time_can_be_nothing() -> None:
    none = replace(RULES, margin=0, ideal_margin=0, edge=0, face_first=0, face_min=0)
    (shot,) = divide(task_of(("ines", 600), cuts=(300,)), none)
    assert 300 in shot
