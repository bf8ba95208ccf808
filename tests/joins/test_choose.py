"""Which move of a join is made."""

from __future__ import annotations

from dataclasses import replace
from math import nan

from hypothesis import given
from hypothesis import strategies as st

from mltassist.joins.planner.choose import improvements, is_better, nearest_improvements
from mltassist.joins.planner.judge import Habits, Judgement, Measures, Verdict, judge
from mltassist.recipe.rules import ListenRules, MendRules

LISTEN, MEND = ListenRules(), MendRules()
CLEAN = Measures(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.5, nan)
CUT = replace(CLEAN, cut_after=1.0)


def weighed(measures: Measures) -> Judgement:
    return judge(measures, Habits(), LISTEN)


def best(
    now: Measures, moves: list[tuple[int, int, Measures]], mend: MendRules = MEND
) -> list[tuple[int, int]]:
    found = improvements(weighed(now), moves, weighed, mend)
    return [(move.before_by, move.after_by) for move in found]


def test_a_clean_join_is_not_moved():
    assert best(CLEAN, [(1, 1, replace(CLEAN, pause_s=0.6))]) == []


def test_the_smallest_of_equal_moves_comes_first():
    assert best(CUT, [(0, -3, CLEAN), (0, -2, CLEAN), (-2, -2, CLEAN)]) == [(0, -2), (-2, -2), (0, -3)]


def test_the_verdict_counts_before_the_length_of_the_move():
    better = replace(CLEAN, cut_after=0.25)  # to be checked
    assert best(CUT, [(0, -1, better), (4, -6, CLEAN)]) == [(4, -6), (0, -1)]


def test_a_film_that_keeps_its_length_is_only_rolled():
    kept = MendRules(length="kept")
    assert best(CUT, [(0, -1, CLEAN), (-3, -3, CLEAN)], kept) == [(-3, -3)]


def test_the_same_verdict_must_lose_a_part_of_its_score():
    worse, less = replace(CLEAN, cut_after=0.9), replace(CLEAN, cut_after=0.7)
    assert best(CUT, [(0, -1, worse), (0, -2, less)]) == [(0, -2)]


def test_a_move_that_goes_far_is_looked_for_only_where_none_nearby_is_clean():
    asked = []

    def moves(reach: int) -> list[tuple[int, int, Measures]]:
        asked.append(reach)
        near = replace(CLEAN, cut_after=0.25)
        return [(0, -1, near), (0, -9, CLEAN)] if reach >= 9 else [(0, -1, near)]

    found = nearest_improvements(weighed(CUT), moves, weighed, MEND)
    assert [move.after_by for move in found] == [-9, -1]
    nearest_improvements(weighed(CUT), lambda reach: asked.append(reach) or [(0, -1, CLEAN)], weighed, MEND)
    nearest_improvements(weighed(CUT), moves, weighed, MendRules(reach_frames=2))
    assert asked == [6, 12, 6, 2]
    assert nearest_improvements(weighed(CLEAN), moves, weighed, MEND) == ()


heard = st.builds(
    Measures,
    st.just(0.0),
    *([st.one_of(st.just(nan), st.floats(-12, 12))] * 2),
    st.floats(0, 6),
    st.floats(0, 1),
    st.floats(0, 1),
    st.floats(0, 30),
    st.floats(0, 4),
    st.just(nan),
)


@given(now=heard, moved=st.lists(heard, max_size=8))
def test_no_move_that_is_made_sounds_worse(now, moved):
    judgement = judge(now, Habits(), LISTEN)
    found = improvements(judgement, [(n, 0, one) for n, one in enumerate(moved)], weighed, MEND)
    order = list(Verdict)
    for move in found:
        assert is_better(move.judgement, judgement, MEND.better_by)
        assert order.index(move.judgement.verdict) <= order.index(judgement.verdict)
        assert move.judgement.score < judgement.score
    ranks = [(order.index(move.judgement.verdict), move.cost) for move in found]
    assert ranks == sorted(ranks)


def test_a_leap_of_the_voice_is_heard_only_inside_a_sound():
    leaping = replace(CLEAN, pitch_step_semitones=5.0)
    assert judge(leaping, Habits(), LISTEN).verdict is Verdict.CLEAN
    running = replace(leaping, cut_before=0.3, cut_after=0.3)
    kinds = [reason.kind for reason in judge(running, Habits(), LISTEN).reasons]
    assert kinds[0] == "pitch"
    assert "5 semitones" in judge(running, Habits(), LISTEN).reasons[0].words
    assert judge(replace(running, pitch_step_semitones=nan), Habits(), LISTEN).reasons[0].kind != "pitch"


def test_one_great_fault_does_not_hide_the_others():
    worst = replace(CLEAN, speech_after_dbfs=120.0, cut_before=1.0, cut_after=1.0)
    both = replace(worst, speech_after_dbfs=80.0)
    fewer = replace(both, cut_before=0.0)
    now = judge(worst, Habits(), LISTEN)
    found = improvements(now, [(0, 1, both), (0, 2, fewer)], weighed, MEND)
    assert [move.after_by for move in found] == [2, 1]
