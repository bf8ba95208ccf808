"""What is measured at an edit becomes a verdict and the editor's words."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import pytest

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
        ({"speech_after_dbfs": -7.0}, "level", "speech is 7 dB quieter after the join"),
        ({"background_step_db": 7.0}, "room", "the room is 7 dB louder after the join"),
        (
            {"background_step_db": 7.0, "speech_after_dbfs": 6.6},
            "level",
            "everything is 7 dB louder after the join",
        ),
        ({"background_shape_db": 6.0}, "room colour", "the room sounds different after the join"),
        ({"pause_s": 0.03}, "short pause", "no breath: only 0.03 s between the words"),
        ({"pause_s": 4.0}, "long pause", "4.0 s of silence, longer than this speaker's own pauses"),
        ({"click_db": 24.0, "cut_before": 0.15}, "click", "a click: the wave jumps by 24 dB"),
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
    apart = judge(replace(QUIET, speech_after_dbfs=2.0, background_step_db=-1.5), Habits(), RULES)
    assert apart.verdict is Verdict.CLEAN


def test_a_lively_speaker_and_a_restless_room_are_allowed_more():
    step = replace(QUIET, speech_after_dbfs=5.0, background_step_db=4.0, pause_s=1.5)
    assert judge(step, Habits(), RULES).verdict is Verdict.HEARD
    assert judge(step, Habits(2.5, 8.0, 3.0, 1.6), RULES).verdict is Verdict.CLEAN


def test_between_two_speakers_levels_and_rooms_may_differ_but_words_may_not_be_cut():
    other = replace(QUIET, speech_after_dbfs=9.0, background_step_db=9.0, background_shape_db=9.0)
    assert judge(other, Habits(), RULES, same_speaker=0.0).verdict is Verdict.CLEAN
    assert judge(replace(other, cut_after=0.9), Habits(), RULES, same_speaker=0.0).verdict is Verdict.HEARD


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
    assert judge(replace(QUIET, speech_after_dbfs=1.6), Habits(), RULES).verdict is Verdict.CLEAN
    assert judge(replace(QUIET, speech_after_dbfs=1.6), Habits(), strict).verdict is Verdict.CHECK
