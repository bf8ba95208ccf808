"""What is measured at an edit becomes a verdict and the editor's words."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from mltassist.joins.planner.judge import Habits, Measures, Verdict, judge
from mltassist.recipe.rules import ListenRules

RULES = ListenRules()
QUIET = Measures(
    speech_before_dbfs=0.0,
    speech_after_dbfs=0.2,
    background_step_db=0.1,
    background_shape_db=0.3,
    cut_before=0.0,
    cut_after=0.0,
    click_db=0.0,
    pause_s=0.4,
    pitch_step_semitones=nan,
)


def test_an_edit_in_a_pause_of_one_room_is_clean():
    judgement = judge(QUIET, Habits(), RULES)
    assert judgement.verdict is Verdict.CLEAN
    assert judgement.score < 0.5
    assert judgement.reasons == ()


@pytest.mark.parametrize(
    ("change", "kind", "words"),
    [
        ({"cut_before": 0.6}, "word before", "a word is cut off before the join"),
        ({"cut_after": 0.6}, "word after", "a word has lost its beginning"),
        ({"speech_after_dbfs": -10.0}, "level", "speech is 10 dB quieter after the join"),
        ({"background_step_db": 7.0}, "room", "the room is 7 dB louder after the join"),
        (
            {"background_step_db": 7.0, "speech_after_dbfs": 6.6},
            "level",
            "everything is 7 dB louder after the join",
        ),
        ({"background_shape_db": 6.0}, "room colour", "the room sounds different after the join"),
        ({"pause_s": 0.03}, "short pause", "no breath: only 0.03 s between the words"),
        ({"pause_s": 4.0}, "long pause", "4.0 s of silence, longer than this speaker's own pauses"),
        ({"click_db": 24.0}, "click", "a click: the wave jumps by 24 dB"),
    ],
)
def test_each_fault_is_heard_and_told_in_words(change, kind, words):
    judgement = judge(replace(QUIET, **change), Habits(), RULES)
    assert judgement.verdict is Verdict.HEARD
    assert (kind, words) in [(reason.kind, reason.words) for reason in judgement.reasons]
    assert judgement.score == pytest.approx(max(reason.size for reason in judgement.reasons), abs=1e-3)


def test_between_clean_and_heard_an_edit_is_to_be_checked():
    unknown = replace(QUIET, background_step_db=nan, background_shape_db=nan)
    judgement = judge(replace(unknown, speech_after_dbfs=3.5), Habits(), RULES)
    assert judgement.verdict is Verdict.CHECK
    assert judge(replace(unknown, speech_after_dbfs=2.9), Habits(), RULES).verdict is Verdict.CLEAN
    assert judge(replace(unknown, speech_after_dbfs=4.6), Habits(), RULES).verdict is Verdict.HEARD


def test_a_louder_phrase_in_the_same_room_is_the_speakers_and_one_with_the_room_is_not():
    for louder in (2.0, 4.0):
        assert judge(replace(QUIET, speech_after_dbfs=louder), Habits(), RULES).verdict is Verdict.CLEAN
        both = judge(replace(QUIET, speech_after_dbfs=louder, background_step_db=louder), Habits(), RULES)
        assert both.verdict is Verdict.HEARD
        assert [reason.kind for reason in both.reasons] == ["level"]
    apart = judge(replace(QUIET, speech_after_dbfs=2.0, background_step_db=-1.4), Habits(), RULES)
    assert apart.verdict is Verdict.CLEAN


def test_a_lively_speaker_and_a_restless_room_are_allowed_more():
    step = replace(QUIET, speech_after_dbfs=3.0, background_step_db=2.2, pause_s=1.5)
    assert judge(step, Habits(), RULES).verdict is Verdict.HEARD
    assert judge(step, Habits(2.5, 2.0, 3.0, 1.6), RULES).verdict is Verdict.CLEAN


def test_a_recording_that_was_turned_up_between_its_takes_is_allowed_no_more_for_it():
    both = replace(QUIET, speech_after_dbfs=6.0, background_step_db=5.8)
    room = replace(QUIET, background_step_db=5.8)
    for habit_db in (2.0, 6.0, 20.0):
        assert judge(both, Habits(room_step_db=habit_db), RULES).verdict is Verdict.HEARD
        assert judge(room, Habits(room_step_db=habit_db), RULES).verdict is Verdict.HEARD


def test_what_breathes_in_a_speakers_pauses_is_no_word_but_a_word_is_one_anywhere():
    inside = replace(QUIET, cut_before=0.22)
    assert judge(inside, Habits(), RULES).verdict is Verdict.CHECK
    assert judge(inside, Habits(rest=0.2), RULES).verdict is Verdict.CLEAN
    assert judge(replace(QUIET, cut_before=0.4), Habits(rest=1.0), RULES).verdict is Verdict.HEARD


def test_between_two_speakers_levels_and_rooms_may_differ_but_words_may_not_be_cut():
    other = replace(QUIET, speech_after_dbfs=9.0, background_step_db=9.0, background_shape_db=9.0)
    assert judge(other, Habits(), RULES, same_speaker=0.0).verdict is Verdict.CLEAN
    assert judge(replace(other, cut_after=0.9), Habits(), RULES, same_speaker=0.0).verdict is Verdict.HEARD


def test_who_answers_another_needs_no_breath_before_it():
    short = replace(QUIET, pause_s=0.09)
    assert judge(short, Habits(), RULES).verdict is Verdict.CHECK
    assert judge(short, Habits(), RULES, same_speaker=0.0).verdict is Verdict.CLEAN
    assert judge(replace(QUIET, pause_s=0.0), Habits(), RULES, same_speaker=0.0).verdict is Verdict.HEARD


def test_a_click_in_a_pause_counts_like_any_other():
    judgement = judge(replace(QUIET, click_db=30.0), Habits(), RULES)
    assert judgement.verdict is Verdict.HEARD
    assert [reason.kind for reason in judgement.reasons] == ["click"]


def test_too_little_to_tell_accuses_nobody():
    unknown = Measures(nan, nan, nan, nan, 0.0, 0.0, 0.0, inf, nan)
    assert judge(unknown, Habits(), RULES).verdict is Verdict.CLEAN
    assert judge(replace(unknown, pause_s=nan), Habits(), RULES).score == 0.0


def test_the_recipe_sets_the_limits():
    strict = replace(RULES, level_limit_db=1.0, level_spread=0.5)
    assert judge(replace(QUIET, speech_after_dbfs=2.4), Habits(), RULES).verdict is Verdict.CLEAN
    assert judge(replace(QUIET, speech_after_dbfs=2.4), Habits(), strict).verdict is Verdict.CHECK


LEVEL = st.floats(-30, 30)
ANY = st.builds(
    Measures,
    speech_before_dbfs=LEVEL,
    speech_after_dbfs=LEVEL,
    background_step_db=st.one_of(st.just(nan), LEVEL),
    background_shape_db=st.floats(0, 20),
    cut_before=st.floats(0, 1),
    cut_after=st.floats(0, 1),
    click_db=LEVEL,
    pause_s=st.floats(0, 6),
    pitch_step_semitones=st.one_of(st.just(nan), st.floats(-20, 20)),
)
USUAL = st.builds(Habits, st.floats(0, 5), st.floats(0, 5), st.floats(0, 5), st.floats(0, 3))
STEEPEST = {
    # What the score may change by where a measure changes by 1: 1 over the tightest limit, times 3 for the
    # part of two steps that is common (see _turned), and what leads from a voice's level to another limit.
    "speech_before_dbfs": 3 / RULES.whole_limit_db,
    "speech_after_dbfs": 3 / RULES.whole_limit_db,
    "background_step_db": 3 / RULES.whole_limit_db + 30 / RULES.level_limit_db / RULES.whole_limit_db,
    "background_shape_db": 1 / RULES.room_shape_limit_db,
    "cut_before": 4 / RULES.word_limit,
    "cut_after": 4 / RULES.word_limit,
    "click_db": 1 / RULES.click_limit_db,
    "pause_s": 2 / float(RULES.pause_short_s),
    "pitch_step_semitones": 1 / RULES.pitch_limit_semitones,
}


@given(found=ANY, usual=USUAL, same=st.floats(0, 1), name=st.sampled_from(sorted(STEEPEST)))
@example(QUIET, Habits(), 1.0, "speech_after_dbfs")
@example(replace(QUIET, speech_after_dbfs=-0.005, background_step_db=1.9), Habits(), 1.0, "speech_after_dbfs")
def test_no_score_leaps_where_a_measure_hardly_moves(found, usual, same, name):
    moved = replace(found, **{name: getattr(found, name) + 0.01})
    one, other = (judge(m, usual, RULES, same_speaker=same).score for m in (found, moved))
    assert abs(one - other) <= 0.01 * STEEPEST[name] + 0.0011  # scores are told to a thousandth
    # Nor where two recordings are a little more like one.
    nearer = judge(found, usual, RULES, same_speaker=min(1.0, same + 0.01)).score
    steps = judge(found, usual, RULES, same_speaker=1.0).score
    assert abs(nearer - one) <= 0.01 * steps + 0.0011
