"""Cover plans over random films: hard rules always, all rules where the film allows them."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.cutaways.planner.costs import find_first_looks, open_stretches
from mltassist.cutaways.planner.film import CoverTask, Frames, Moment, Shot, Used
from mltassist.cutaways.planner.laying import cover_edits
from mltassist.cutaways.planner.plan import Cover, plan_cover
from mltassist.cutaways.planner.rules import breaches
from mltassist.frames import Rate, Span, without
from mltassist.recipe.cover import CoverRules
from mltassist.timeline.edits import AddMarker, LayShot
from tests.cutaways.films import RULES, TINY, clips, films, task_of
from tests.cutaways.test_spans import divisions, tiny_films

HARD = {"shot length", "neighbours differ", "handled ends", "no frame twice", "rest before reuse"}
"""Rules about the shots themselves, which no film can force a plan to break."""
BY_SUPPLY = st.sampled_from([0, 3, 12, 60])


@settings(max_examples=25, deadline=None)
@given(data=st.data(), supply=BY_SUPPLY)
def test_whatever_the_supply_shots_keep_the_hard_rules(data: st.DataObject, supply: int) -> None:
    task = data.draw(films(supply=supply))
    plan = plan_cover(task, RULES)
    assert plan == plan_cover(task, RULES)
    assert all(one.span.end <= other.span.start for one, other in pairwise(plan.shots))
    blocked = [view.span for view in task.views if view.who is None]
    assert not [s for s in plan.shots for b in blocked if s.span.overlaps(b)]
    assert all(shot.span.start >= 0 and shot.span.end <= task.length for shot in plan.shots)
    assert not HARD & {breach.rule for breach in plan.breaches}
    assert plan.breaches == breaches(task, RULES, plan.shots)
    wanted = len(plan.shots) + len(plan.bare)
    assert supply or wanted == len(plan.bare)
    assert supply < 60 or not plan.bare


@settings(max_examples=60, deadline=None)
@given(task=films(supply=20))
def test_the_order_of_the_supply_does_not_matter(task: CoverTask) -> None:
    turned = replace(task, supply=task.supply[::-1])
    assert plan_cover(turned, RULES) == plan_cover(task, RULES)


def impossible(task: CoverTask, rules: Frames, at: int, rule: str) -> bool:
    """True when no single shot of any length can keep the rule at this place.

    Such places are: a stretch between the editor's pictures that is shorter than the shortest shot; a
    jump cut nearer to the end of its stretch than the margin; and a first look squeezed between
    shots that narration or cuts need.
    """
    stretch = next((s for s in open_stretches(task) if s.start <= at <= s.end), Span(at, at))
    if rule in ("cover every jump cut", "cover narration"):
        return stretch.length < rules.shot_min
    if rule == "margin":
        return at - stretch.start < rules.margin or stretch.end - at < rules.margin
    return rule == "first look"


@settings(max_examples=80, deadline=None)
@given(task=films(supply=60))
def test_with_rich_supply_only_impossible_places_break_a_rule(task: CoverTask) -> None:
    plan = plan_cover(task, RULES)
    assert [b for b in plan.breaches if not impossible(task, RULES, b.at, b.rule)] == []


@settings(max_examples=100, deadline=None, derandomize=True)  # tiny films have rare ties of two rules
@given(found=tiny_films())
def test_no_plan_at_all_keeps_every_rule_where_ours_does_not(found: CoverTask) -> None:
    """Every division of a tiny film is tried, and none that shows each speaker breaks no rule."""
    # One frame unseen costs little beside other rules: here, where films have few frames, it weighs as much.
    rules = replace(TINY, reuse_after=0, weights=replace(TINY.weights, unseen=1000.0))
    task = replace(found, supply=clips(16, 60))
    if not plan_cover(task, rules).breaches:
        return
    looks = find_first_looks(task, rules)
    ways = [list(divisions(part.start, part.end, rules)) for part in open_stretches(task)]
    for way in product(*ways):
        spans = [span for part in way for span in part]
        shots = tuple(Shot(span, m, m.span.start) for span, m in zip(spans, task.supply, strict=False))
        seen = {v.who for v in task.views if v.who in looks and without([v.span], spans)}
        assert breaches(task, rules, shots) or seen != set(looks), shots


@pytest.mark.parametrize(
    ("task", "rule", "at"),
    [
        (task_of((None, 50), ("ines", 44), (None, 50), cuts=(72,)), "cover every jump cut", 72),
        (task_of((None, 50), ("", 40), (None, 50), narration=((50, 90),)), "cover narration", 50),
        (task_of(("ines", 300), cuts=(6,)), "margin", 6),
        (task_of(("ines", 300), (None, 50), cuts=(290,)), "margin", 290),
        # Narration needs 5 frames of the bite on one side and 30 on the other: 74 of 75 are left.
        (
            task_of(("", 300), ("ines", 109), ("", 20), narration=((0, 300), (409, 429))),
            "first look",
            305,
        ),
        (
            task_of(
                ("ines", 20),
                ("", 100),
                ("ines", 400),
                narration=((20, 120),),
                sound_edits=(*range(0, 520, 5),),
            ),
            "cut apart",
            None,
        ),
        (task_of(("ines", 600), cuts=tuple(range(100, 500, 20))), "margin", None),
    ],
    ids=[
        "a cut in too short a stretch",
        "narration in too short a stretch",
        "a cut at the start of the film",
        "a cut beside the editor's picture",
        "a first look between narrations",
        "sound edits everywhere",
        "cuts closer than the margins for longer than any shot",
    ],
)
def test_what_geometry_forbids_is_told_by_the_name_of_its_rule(
    task: CoverTask, rule: str, at: int | None
) -> None:
    told = plan_cover(replace(task, supply=clips(40)), RULES).breaches
    assert {breach.rule for breach in told} == {rule}
    assert at is None or [breach.at for breach in told] == [at]


def test_scarce_supply_goes_to_cuts_first_and_the_rest_is_named() -> None:
    task = task_of(("ines", 1500), cuts=(300, 700, 1200), supply=clips(2))
    plan = plan_cover(task, RULES)
    assert len(plan.shots) == 2
    (bare,) = plan.bare
    assert {breach.rule for breach in plan.breaches} == {"cover every jump cut"}
    markers = [edit for edit in cover_edits(task, plan) if isinstance(edit, AddMarker)]
    assert [(marker.at, marker.text) for marker in markers] == [(bare.start, "shot missing")]
    assert "a jump cut" in markers[0].reason


def test_what_the_editor_has_used_is_spent() -> None:
    one = clips(1, length=160)
    task = task_of(("ines", 900), (None, 3000), cuts=(400,), supply=one)
    far = Used(one[0].source, Span(12, 90), Span(3800, 3878))
    (shot,) = plan_cover(replace(task, used=(far,)), RULES).shots
    assert shot.source_in == 90
    near = replace(far, span_on_timeline=Span(1000, 1078))
    assert plan_cover(replace(task, used=(near,)), RULES).shots == ()


def test_neighbours_under_narration_differ_in_size_or_subject() -> None:
    alike = [replace(moment, size="WS", subjects=("wheel",)) for moment in clips(6)]
    task = task_of(("", 600), narration=((0, 600),), supply=(*alike,))
    plan = plan_cover(task, RULES)
    assert plan.bare
    assert not HARD & {breach.rule for breach in plan.breaches}
    mixed = tuple(replace(m, size=size) for m, size in zip(alike, ("WS", "CU") * 3, strict=True))
    assert plan_cover(replace(task, supply=mixed), RULES).bare == ()


def test_the_edits_of_a_plan_carry_its_shots_and_reasons() -> None:
    task = task_of(("", 100), ("ines", 900), cuts=(400, 430), narration=((0, 100),), supply=clips(8))
    plan = plan_cover(task, RULES)
    edits = cover_edits(task, plan)
    laid = [edit for edit in edits if isinstance(edit, LayShot)]
    assert len(laid) == len(edits)
    assert [(e.at, e.length, e.source, e.source_in) for e in laid] == [
        (s.span.start, s.span.length, s.moment.source, s.source_in) for s in plan.shots
    ]
    assert [edit.reason for edit in laid][-1] == "covers 2 jump cuts"
    assert laid[0].reason == "covers narration"
    assert all(edit.name == shot.moment.name for edit, shot in zip(laid, plan.shots, strict=True))


def test_an_empty_film_has_an_empty_plan() -> None:
    assert plan_cover(task_of(), RULES) == Cover((), (), ())


def test_rules_in_frames_are_never_laxer_than_in_seconds() -> None:
    rules, rate = CoverRules(), Rate(30000, 1001)
    frames = Frames.of(rules, rate)
    assert rate.seconds(frames.margin) >= rules.margin_s > rate.seconds(frames.margin - 1)
    assert rate.seconds(frames.shot_min) >= rules.shot_min_s
    assert rate.seconds(frames.shot_max) <= rules.shot_max_s < rate.seconds(frames.shot_max + 1)
    assert rate.seconds(frames.reuse_after) >= rules.reuse_after_s
    assert frames.shot_ideal == 105


def test_a_film_opens_wide_where_nothing_else_speaks_for_a_close_shot():
    """The last of three clips that cost alike is the wide one; a word that names a close one outweighs it."""
    sizes = ("CU", "MS", "WS")
    supply = tuple(
        Moment(f"/{n}.mov", Span(0, 400), size, size, (f"thing{n}",)) for n, size in enumerate(sizes)
    )
    task = replace(task_of(("", 100), narration=((0, 100),)), supply=supply)
    assert [shot.moment.size for shot in plan_cover(task, RULES).shots] == ["WS"]
    later = replace(task_of(("ines", 200), ("", 100), narration=((200, 300),)), supply=supply)
    assert [shot.moment.size for shot in plan_cover(later, RULES).shots] == ["CU"]
    none = replace(RULES, weights=replace(RULES.weights, opening=0.0))
    assert [shot.moment.size for shot in plan_cover(task, none).shots] == ["CU"]
    assert [shot.moment.size for shot in plan_cover(task, RULES, closely=True).shots] == ["WS"]
