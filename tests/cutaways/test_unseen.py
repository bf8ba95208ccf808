"""Nobody is unseen for too long, and nothing is black, where plans would like to cover everything."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mltassist.cutaways.planner.closing import closed
from mltassist.cutaways.planner.film import JumpCut, Shot
from mltassist.cutaways.planner.objective import plan_cost
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.cutaways.planner.rules import breaches
from mltassist.cutaways.planner.unseen import unseen_runs
from mltassist.frames import Span, without
from tests.cutaways.films import RULES, clips, task_of

QUIET = replace(RULES, weights=replace(RULES.weights, cover=0.0), face_min=38)
"""A face is worth nothing here, so that shots in a row are never broken for it."""


def test_a_run_of_shots_over_two_speakers_is_one() -> None:
    task = task_of(("ines", 400), ("tobias", 400), ("", 100), ("ines", 300), narration=((800, 900),))
    cover = [Span(100, 250), Span(250, 500), Span(700, 1000)]
    assert unseen_runs(task, cover) == (Span(100, 500), Span(700, 800), Span(900, 1000))


def test_a_picture_that_lies_over_an_interview_hides_its_face_too() -> None:
    task = replace(task_of(("ines", 400), (None, 100), ("ines", 400)), hidden=(Span(400, 500),))
    assert unseen_runs(task, [Span(300, 400), Span(500, 600)]) == (Span(300, 600),)
    assert unseen_runs(task, [Span(200, 300)]) == (Span(200, 300),)


def test_a_look_is_left_open_before_a_picture_of_the_editors() -> None:
    cuts = tuple(range(150, 640, 90)) + tuple(range(1090, 1500, 90))
    parts = (("ines", 700), (None, 300), ("ines", 700))
    task = replace(task_of(*parts, cuts=cuts), supply=clips(60), hidden=(Span(700, 1000),))
    plan = plan_cover(task, QUIET)
    longest = max(run.length for run in unseen_runs(task, [shot.span for shot in plan.shots]))
    assert longest <= QUIET.unseen_max
    assert not [breach for breach in plan.breaches if breach.rule == "somebody is seen"]


@pytest.mark.parametrize("apart", [60, 90, 130])
def test_cuts_close_together_still_let_a_face_be_seen_in_time(apart: int) -> None:
    cuts = tuple(range(150, 2800, apart))
    task = replace(task_of(("ines", 1500), ("tobias", 1500), cuts=cuts), supply=clips(60))
    free = plan_cover(task, replace(QUIET, unseen_max=10**6))
    kept = plan_cover(task, QUIET)

    def longest(plan):
        return max(run.length for run in unseen_runs(task, [shot.span for shot in plan.shots]))

    assert longest(free) > QUIET.unseen_max or apart == 130
    assert longest(kept) <= QUIET.unseen_max
    assert not [breach for breach in kept.breaches if breach.rule == "somebody is seen"]
    assert {cut for cut in cuts if not any(cut in shot.span for shot in kept.shots)} == set()


def test_a_shot_runs_on_over_black_into_the_next_face() -> None:
    """Narration ends nine frames before the face begins: no flash of black, no cut with the sound."""
    parts = (("", 300), ("ines", 600))
    task = task_of(*parts, narration=((0, 291),), sound_edits=(0, 291, 300, 900))
    task = replace(task, holes=(Span(291, 300),), supply=clips(8))
    plan = plan_cover(task, RULES)
    assert plan.breaches == ()
    assert plan.shots[-1].span.end >= 300 + RULES.edge


def test_a_long_hole_is_covered_from_end_to_end() -> None:
    task = task_of(("ines", 400), ("", 300), ("ines", 400), sound_edits=(0, 400, 700, 1100))
    bare = replace(task, supply=clips(8))
    assert plan_cover(bare, RULES).shots == ()
    plan = plan_cover(replace(bare, holes=(Span(400, 700),)), RULES)
    assert plan.breaches == ()
    cover = [shot.span for shot in plan.shots]
    assert all(any(frame in span for span in cover) for frame in range(400, 700))


def test_a_hole_without_a_clip_is_told_as_missing() -> None:
    task = replace(task_of(("ines", 400), ("", 300), ("ines", 400)), holes=(Span(400, 700),))
    plan = plan_cover(task, RULES)
    assert [breach.rule for breach in plan.breaches] == ["no black"]
    assert any(span.overlaps(Span(400, 700)) for span in plan.bare)


def test_a_jump_cut_before_the_limit_is_not_given_up_for_a_look() -> None:
    task = replace(task_of(("ines", 700)), cuts=(JumpCut(350),), supply=clips(8))
    plan = plan_cover(task, replace(QUIET, unseen_max=60))
    assert any(350 in shot.span for shot in plan.shots)


def test_a_speaker_who_begins_is_seen_before_much_more_is_said() -> None:
    """Two speak in turns, cut so closely that their first looks would always be somebody else's."""
    parts = (("ines", 180), ("tobias", 240)) * 6
    starts = range(0, 6 * 420, 420)
    cuts = tuple(at + by for at in starts for by in (40, 90, 140))
    task = replace(task_of(*parts, cuts=cuts), supply=clips(60))
    shots = plan_cover(task, RULES).shots
    faces = [view.span for view in task.views if view.who == "ines"]
    seen = without(faces, [shot.span for shot in shots])
    assert sum(span.length for span in faces if span.end <= seen[0].start) <= RULES.unseen_max
    # Where nobody asks for it she is not seen in time, and that is told.
    late = plan_cover(task, replace(RULES, unseen_max=10**6)).shots
    assert "somebody is seen" in {breach.rule for breach in breaches(task, RULES, late)}
    assert "somebody is seen" not in {breach.rule for breach in breaches(task, RULES, shots)}


@pytest.mark.parametrize("room", [150, 144, 100])
def test_a_flash_of_black_between_two_shots_is_closed_where_a_clip_has_the_frames(room: int) -> None:
    task = task_of(("", 290), ("ines", 400), narration=((0, 290),), sound_edits=())
    first, second = (replace(clip, span=Span(12, 12 + room)) for clip in clips(2))
    task = replace(task, supply=(first, second))
    shots = (
        Shot(Span(0, min(144, room)), first, 12),
        Shot(Span(145, 290), replace(second, span=Span(12, 157)), 12),
    )
    whole = closed(task, RULES, shots)
    assert [shot.span for shot in whole][1:] == [shots[1].span]
    assert whole[0].span.end == (145 if room == 150 else shots[0].span.end)
    assert plan_cost(task, RULES, whole) <= plan_cost(task, RULES, shots)
    assert closed(task, RULES, shots, stay=shots) == shots
