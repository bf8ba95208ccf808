"""Where a pause is opened, and which moment fills it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mltassist.frames import Span
from mltassist.pauses.planner import NaturalMoment, PauseTask, best_moment, plan_pause, rests, suggest_places
from mltassist.timeline.edits import LayNatural, OpenPause

GULLS = NaturalMoment("/nat/gulls.mov", "Gulls", Span(40, 152), -30.0, alive=5.0)
WHEEL = NaturalMoment("/nat/wheel.mov", "Wheel", Span(80, 192), -25.5, alive=2.0, fits=("wheel",))
TASK = PauseTask(
    at=500,
    length=100,
    empty=(),
    run_on=(4, 5),
    moments=(GULLS,),
    target_lufs=-27.0,
    lead=6,
    trail=6,
    fade=5,
)


def test_a_pause_is_opened_and_filled_with_its_moment() -> None:
    opened, laid = plan_pause(TASK)
    assert opened == OpenPause(500, 100, "a natural-sound pause was asked for here", (4, 5))
    assert isinstance(laid, LayNatural)
    assert (laid.at, laid.length, laid.source, laid.source_in) == (500, 100, GULLS.source, 46)
    assert (laid.lead, laid.trail, laid.gain_db) == (6, 6, 3.0)
    assert (laid.fade_in, laid.fade_out, laid.name) == (5, 5, "Gulls")


@pytest.mark.parametrize(
    ("room", "at"),
    [
        (Span(480, 700), 500),  # from the place on
        (Span(500, 600), 500),  # just room enough
        (Span(450, 560), 460),  # as late as the room allows
        (Span(400, 500), 400),  # the place is the end of the room
    ],
)
def test_an_empty_stretch_is_used_without_moving_anything(room: Span, at: int) -> None:
    edits = plan_pause(replace(TASK, empty=(Span(0, 100), room)))
    assert [type(edit) for edit in edits] == [LayNatural]
    assert isinstance(edits[0], LayNatural)
    assert edits[0].at == at
    assert room.covers(Span(edits[0].at, edits[0].at + 100))


@pytest.mark.parametrize("room", [Span(480, 579), Span(501, 700), Span(300, 499)])
def test_an_empty_stretch_that_is_short_or_elsewhere_is_no_room(room: Span) -> None:
    assert isinstance(plan_pause(replace(TASK, empty=(room,)))[0], OpenPause)


@pytest.mark.parametrize(
    ("bare", "at", "length"),
    [
        (Span(497, 500), 497, 103),  # black before the place
        (Span(500, 503), 500, 103),  # and after it
        (Span(498, 504), 498, 106),
        (Span(490, 503), 500, 103),  # too long before it for what is heard early
        (Span(500, 507), 500, 100),
        (Span(300, 400), 500, 100),
    ],
)
def test_the_natural_picture_runs_on_to_the_next_picture(bare: Span, at: int, length: int) -> None:
    _, laid = plan_pause(replace(TASK, bare=(bare,)))
    assert isinstance(laid, LayNatural)
    assert (laid.at, laid.length) == (at, length)
    before, after = 500 - at, length - 100 - (500 - at)
    assert (laid.lead, laid.trail) == (6 - before, 6 - after)
    assert laid.source_in == 46 - before  # in step with what is heard, which stays where it was


def test_in_an_empty_stretch_it_runs_on_to_both_ends() -> None:
    (laid,) = plan_pause(replace(TASK, empty=(Span(495, 604),), bare=(Span(495, 604),)))
    assert isinstance(laid, LayNatural)
    assert (laid.at, laid.length) == (495, 109)


def test_without_a_moment_the_pause_stays_empty() -> None:
    assert [type(edit) for edit in plan_pause(replace(TASK, moments=()))] == [OpenPause]


def test_at_the_start_of_the_film_the_sound_has_no_lead_to_play() -> None:
    laid = plan_pause(replace(TASK, at=2))[-1]
    assert isinstance(laid, LayNatural)
    assert laid.lead == 2
    assert laid.source_in == GULLS.span.start + 6, "the picture begins where it would anyway"


def test_the_best_moment_fits_the_place_then_is_the_most_alive_then_comes_first_by_name() -> None:
    assert best_moment([GULLS, WHEEL]) is WHEEL
    two = replace(GULLS, fits=("gulls", "mud"), alive=-9.0)
    assert best_moment([WHEEL, two]) is two
    tame = replace(GULLS, source="/nat/a.mov", alive=1.0)
    assert best_moment([tame, GULLS]) is GULLS
    twin = replace(GULLS, source="/nat/z.mov")
    assert best_moment([twin, GULLS]) is GULLS
    assert best_moment([]) is None


def test_the_reason_names_the_subject_that_fits() -> None:
    laid = plan_pause(replace(TASK, moments=(GULLS, WHEEL)))[-1]
    assert laid.reason == "the most alive moment, its subject is named: wheel"


def test_the_longest_rests_are_suggested_those_after_a_topic_first():
    rests_found = [Span(500, 540), Span(1500, 1530), Span(2500, 2520), Span(2900, 3000)]
    edits = [(510, False), (1510, True), (2505, False)]
    found = suggest_places(rests_found, edits, [], [], length=4000, spacing=450, many=2)
    assert found == (1510, 2950)  # 30 frames count three times, 100 once
    assert suggest_places(rests_found, edits, [], [], length=4000, spacing=450, many=9) == (510, 1510, 2950)


def test_no_pause_is_suggested_in_a_dissolve_or_near_another_or_an_end():
    rests_found = [Span(100, 200), Span(1000, 1100), Span(2000, 2100), Span(3000, 3100)]
    dissolves = [Span(1040, 1060)]
    found = suggest_places(rests_found, [], dissolves, [2300], length=3400, spacing=400, many=5)
    assert found == ()
    assert suggest_places(rests_found, [], [], [2300], length=3600, spacing=400, many=5) == (1050, 3050)


@given(
    speech=st.lists(st.tuples(st.integers(0, 4000), st.integers(1, 200)), max_size=30),
    edits=st.lists(st.tuples(st.integers(0, 4200), st.booleans()), max_size=10),
    spacing=st.integers(1, 500),
    many=st.integers(0, 6),
)
def test_a_suggested_place_never_lies_inside_a_word(speech, edits, spacing, many):
    spoken = [Span(start, start + length) for start, length in speech]
    found = suggest_places(rests(spoken, 4200), edits, [], [], length=4200, spacing=spacing, many=many)
    assert len(found) <= many
    assert not [at for at in found for span in spoken if span.start < at < span.end]
    assert all(b - a >= spacing for a, b in pairwise(found))
