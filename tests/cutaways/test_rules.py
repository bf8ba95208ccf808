"""The checker of cover plans: a sound plan passes, and each rule is told when it alone is broken."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mltassist.cutaways.planner.film import CoverTask, JumpCut, Moment, Shot, Used
from mltassist.cutaways.planner.rules import breaches
from mltassist.frames import Span
from tests.cutaways.films import RULES, clips, task_of

SUPPLY = clips(6)
TASK = task_of(("ines", 1000), ("", 200), ("ines", 400), cuts=(500,), narration=((1000, 1200),))
# At 25 frames a second: margin 13, shots of 50 to 150 frames (200 over two cuts), first look 75, looks 38.


def laid(*places: tuple[int, int], supply: tuple[Moment, ...] = SUPPLY) -> tuple[Shot, ...]:
    """Shots at these places, each from the next clip of the supply."""
    return tuple(
        Shot(Span(*place), moment, moment.span.start) for place, moment in zip(places, supply, strict=False)
    )


SOUND = ((470, 540), (994, 1094), (1094, 1206))
"""Places of shots that keep every rule of TASK."""


def rules_broken(task: CoverTask, *shots: Shot) -> set[str]:
    return {breach.rule for breach in breaches(task, RULES, shots)}


def test_a_sound_plan_breaks_no_rule() -> None:
    assert breaches(TASK, RULES, laid(*SOUND)) == ()


@pytest.mark.parametrize(
    ("places", "rule", "at"),
    [
        ((SOUND[1], SOUND[2]), "cover every jump cut", 500),
        (((488, 560), *SOUND[1:]), "margin", 500),
        (((440, 512), *SOUND[1:]), "margin", 500),
        (((430, 505), *SOUND[1:]), "margin", 500),
        ((SOUND[0], (994, 1094)), "cover narration", 1094),
        ((SOUND[0], (994, 1094), (1095, 1206)), "cover narration", 1094),
        (((480, 529), *SOUND[1:]), "shot length", 480),
        (((440, 591), *SOUND[1:]), "shot length", 440),
        ((SOUND[0], (996, 1094), SOUND[2]), "cut apart", 996),
        ((SOUND[0], SOUND[1], (1094, 1204)), "cut apart", 1204),
        (((74, 174), *SOUND), "first look", 0),
        ((*SOUND[:1], (577, 677), *SOUND[1:]), "no flash of face", 540),
    ],
)
def test_one_broken_rule_is_told_with_its_place(
    places: tuple[tuple[int, int], ...], rule: str, at: int
) -> None:
    told = [(breach.rule, breach.at) for breach in breaches(TASK, RULES, laid(*places))]
    assert told == [(rule, at)]


def test_a_split_edit_that_is_not_wholly_covered_is_told() -> None:
    task = replace(TASK, cuts=(JumpCut(400), JumpCut(500, seen=False)), splits=(Span(400, 500),))
    assert breaches(task, RULES, laid((380, 520), *SOUND[1:])) == ()
    apart = laid((370, 430), (470, 540), *SOUND[1:])
    assert [(b.rule, b.at) for b in breaches(task, RULES, apart)] == [("cover split edits", 430)]


@pytest.mark.parametrize(
    "places",
    [
        ((487, 540), *SOUND[1:]),
        ((440, 513), *SOUND[1:]),
        ((470, 520), *SOUND[1:]),
        ((440, 590), *SOUND[1:]),
        (SOUND[0], (995, 1094), (1094, 1205)),
        ((75, 175), *SOUND),
        (*SOUND[:1], (578, 678), *SOUND[1:]),
    ],
)
def test_a_rule_kept_to_the_frame_is_kept(places: tuple[tuple[int, int], ...]) -> None:
    assert breaches(TASK, RULES, laid(*places)) == ()


def test_a_shot_may_be_longer_where_it_spans_two_cuts() -> None:
    task = task_of(("ines", 1000), cuts=(300, 400))
    assert rules_broken(task, *laid((260, 460))) == set()
    assert rules_broken(task, *laid((260, 461))) == {"shot length"}


def test_a_shot_may_end_on_a_sound_edit_where_the_editors_own_picture_begins() -> None:
    task = task_of(("ines", 300), (None, 100), ("ines", 200), cuts=(250,), sound_edits=(250, 300))
    assert rules_broken(task, *laid((220, 300))) == set()


def test_a_short_look_that_nobody_has_cut_is_the_editors_own() -> None:
    task = task_of((None, 100), ("ines", 20), (None, 100))
    assert rules_broken(task) == set()


def test_two_shots_alike_may_not_stand_side_by_side() -> None:
    alike = replace(SUPPLY[0], source="/rushes/other.mov")
    told = breaches(TASK, RULES, laid(*SOUND, supply=(SUPPLY[2], SUPPLY[0], alike)))
    assert [(breach.rule, breach.at) for breach in told] == [("neighbours differ", 1094)]
    sized = replace(alike, size="CU")
    assert rules_broken(TASK, *laid(*SOUND, supply=(SUPPLY[2], SUPPLY[0], sized))) == set()


def test_a_shot_stays_inside_its_usable_range() -> None:
    good = laid(*SOUND)
    early = replace(good[0], source_in=good[0].moment.span.start - 1)
    late = replace(good[0], source_in=good[0].moment.span.end - good[0].span.length + 1)
    last = replace(late, source_in=late.source_in - 1)
    assert rules_broken(TASK, early, *good[1:]) == {"handled ends"}
    assert rules_broken(TASK, late, *good[1:]) == {"handled ends"}
    assert rules_broken(TASK, last, *good[1:]) == set()


def test_no_source_frame_is_shown_twice_and_a_clip_rests() -> None:
    task = task_of(("ines", 6000), cuts=(500, 3000))
    one = Moment("/rushes/wheel.mov", Span(0, 400), "wheel")
    first = Shot(Span(460, 540), one, 0)
    assert rules_broken(task, first, Shot(Span(2960, 3040), one, 79)) == {"no frame twice"}
    assert rules_broken(task, first, Shot(Span(2960, 3040), one, 80)) == set()
    near = task_of(("ines", 6000), cuts=(500, 2075))
    assert rules_broken(near, first, Shot(Span(2039, 2119), one, 80)) == {"rest before reuse"}
    assert rules_broken(near, first, Shot(Span(2040, 2120), one, 80)) == set()


def test_the_editors_own_shots_count_as_used() -> None:
    moment = SUPPLY[0]
    shot = Shot(Span(470, 540), moment, 112)
    spent = Used(moment.source, Span(150, 200), Span(5000, 5050))
    task = task_of(("ines", 1000), (None, 5000), cuts=(500,))
    assert rules_broken(replace(task, used=(spent,)), shot) == {"no frame twice"}
    soon = Used(moment.source, Span(300, 350), Span(1100, 1150))
    assert rules_broken(replace(task, used=(soon,)), shot) == {"rest before reuse"}
