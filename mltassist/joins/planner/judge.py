"""Is a join heard? Measures of a speech edit against what the ear lets pass, in the editor's words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from math import isfinite, isnan

from mltassist.recipe.rules import ListenRules

LEAP_MOST = 4.0
"""A leap of the voice counts up to this much."""
REST_MOST = 0.25
"""What a speaker's pauses hold raises the limit of words up to this: beyond it lie the soft ends of words."""
ROOM_MOST_DB = 2.0
"""What a recording's room varies by itself raises the limit of its steps up to this: those that set limits
vary by 0.3 to 1.8 dB. One that varies more was turned up or down between its takes, and that is heard."""


class Verdict(StrEnum):
    """What an editor with eyes shut would say."""

    CLEAN = "clean"
    CHECK = "check"
    HEARD = "heard"


@dataclass(frozen=True, slots=True)
class Measures:
    """What the ear could notice at an edit; nan where a side gives too little to tell.

    speech_before_dbfs, speech_after_dbfs: level of speech on each side.
    background_step_db: how much louder the room is after it; background_shape_db: how much its
    spectrum differs, level apart (RMS over bands).
    cut_before, cut_after: how far the edit lies inside a word on that side, 0 in a pause to 1.
    click_db: jump of the waveform at the edit above the steps around it; 0 or less is ordinary.
    pause_s: quiet left between the words on both sides; inf where a side has none.
    pitch_step_semitones: pitch of the last voice before the edit against the first after it.
    """

    speech_before_dbfs: float
    speech_after_dbfs: float
    background_step_db: float
    background_shape_db: float
    cut_before: float
    cut_after: float
    click_db: float
    pause_s: float
    pitch_step_semitones: float

    @property
    def speech_step_db(self) -> float:
        """How much louder speech is after the edit."""
        return self.speech_after_dbfs - self.speech_before_dbfs


@dataclass(frozen=True, slots=True)
class Habits:
    """How much one speaker's recording varies by itself; 0 where it is too short to tell.

    level_sd_db: spread of the loudness of phrases; room_step_db, room_shape_db: how much its room differs
    between two places, in level and in spectrum, 19 times in 20; long_pause_s: the pause that 19 in 20 of
    its pauses are under; rest: how far inside a word a place in its pauses seems to lie, 19 times in 20: what
    breathes, hisses or comes and goes there is no word.
    """

    level_sd_db: float = 0.0
    room_step_db: float = 0.0
    room_shape_db: float = 0.0
    long_pause_s: float = 0.0
    rest: float = 0.0


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that may be heard. size: the measure over its limit, 1 is just heard."""

    kind: str
    size: float
    words: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """The verdict on an edit.

    sizes: of all that was weighed; score: the largest; reasons: those of 1 and more, largest first.
    turned_db: how much louder voice and room together are after the edit; 0 where that is not heard.
    """

    verdict: Verdict
    score: float
    reasons: tuple[Reason, ...]
    sizes: tuple[float, ...] = ()
    turned_db: float = 0.0


def judge(measures: Measures, habits: Habits, rules: ListenRules, *, same_speaker: float = 1.0) -> Judgement:
    """Weigh an edit. Between two speakers only clipped words, clicks and pauses can be wrong.

    same_speaker: from 1 where both sides are one voice in one room to 0 where they are two; steps of level
    and room count by it, and between two a missing breath by half. Every measure is divided by its limit:
    the recipe's, or what this speaker's recording does by itself where that is more. The score is the largest
    of these, so each reason can be read off; it moves no faster than the measures do.
    """
    sizes = [*_words(measures, habits, rules), *_pauses(measures, habits, rules, same_speaker)]
    steps = _steps(measures, habits, rules) if same_speaker > 0 else ()
    sizes += [replace(reason, size=reason.size * same_speaker) for reason in steps]
    both, limit = _turned(measures, habits, rules)
    turned = measures.background_step_db if both * same_speaker >= limit else 0.0
    score = max((reason.size for reason in sizes), default=0.0)
    verdict = Verdict.CLEAN
    if score >= 1:
        verdict = Verdict.HEARD if score >= rules.heard_from else Verdict.CHECK
    found = sorted((r for r in sizes if r.size >= 1), key=lambda r: -r.size)
    return Judgement(verdict, round(score, 3), tuple(found), tuple(reason.size for reason in sizes), turned)


def _words(measures: Measures, habits: Habits, rules: ListenRules) -> Iterator[Reason]:
    limit = max(rules.word_limit, min(REST_MOST, rules.word_ratio * habits.rest))
    yield Reason("word before", measures.cut_before / limit, "a word is cut off before the join")
    yield Reason("word after", measures.cut_after / limit, "a word has lost its beginning")
    click = max(0.0, measures.click_db / rules.click_limit_db)
    yield Reason("click", click, f"a click: the wave jumps by {measures.click_db:.0f} dB")
    # Between two phrases the voice may begin wherever it likes; within a sound it may not leap. Where both
    # sides lie in a sound the words that are cut tell more, so it may come in slowly.
    inside = min(measures.cut_before, measures.cut_after) / limit
    running = min(1.0, max(0.0, inside - 1)) if isfinite(measures.pitch_step_semitones) else 0.0
    leap = abs(measures.pitch_step_semitones) if running else 0.0
    size = running * min(LEAP_MOST, leap / rules.pitch_limit_semitones)
    yield Reason("pitch", size, f"the voice leaps by {leap:.0f} semitones")


def _pauses(measures: Measures, habits: Habits, rules: ListenRules, same_speaker: float) -> Iterator[Reason]:
    longest = max(float(rules.pause_long_s), rules.pause_ratio * habits.long_pause_s)
    if isfinite(measures.pause_s):
        shortest, pause = float(rules.pause_short_s), measures.pause_s
        words = f"no breath: only {pause:.2f} s between the words"
        # Half of what is needed counts as heard; longer pauses count less and less.
        size = shortest / pause if pause > shortest else 3 - 2 * pause / shortest
        # Who answers needs no breath of the other's: turns follow within 0.2 s as a rule, often at once
        # (Stivers et al. 2009, from memory).
        yield Reason("short pause", size * (1 + same_speaker) / 2, words)
        words = f"{pause:.1f} s of silence, longer than this speaker's own pauses"
        # What is half as long is as ordinary as any pause.
        long = pause / longest
        yield Reason("long pause", max(0.0, long if long > 1 else 2 * long - 1), words)


def _steps(measures: Measures, habits: Habits, rules: ListenRules) -> Iterator[Reason]:
    step, room = measures.speech_step_db, measures.background_step_db
    level_limit = max(rules.level_limit_db, rules.level_spread * habits.level_sd_db)
    both, limit = _turned(measures, habits, rules)
    whole = Reason("level", both / limit, f"everything is {abs(room):.0f} dB {_than(room)} after the join")
    if not isnan(step):
        # A phrase that is louder while the room stays is the speaker's own.
        quiet = 0.0 if isnan(room) else min(1.0, max(0.0, 2 - 2 * abs(room) / rules.whole_limit_db))
        level_limit *= 1 + (rules.level_same_room - 1) * quiet
        words = f"speech is {abs(step):.0f} dB {_than(step)} after the join"
        voice = Reason("level", (abs(step) - both) / level_limit, words)
        yield max(whole, voice, key=lambda reason: reason.size)
    if isnan(room):
        return
    words = f"the room is {abs(room):.0f} dB {_than(room)} after the join"
    varies = rules.room_ratio * min(ROOM_MOST_DB, habits.room_step_db)
    yield Reason("room", (abs(room) - both) / max(rules.room_limit_db, varies), words)
    shape = max(rules.room_shape_limit_db, rules.room_shape_ratio * habits.room_shape_db)
    yield Reason(
        "room colour", measures.background_shape_db / shape, "the room sounds different after the join"
    )


def _turned(measures: Measures, habits: Habits, rules: ListenRules) -> tuple[float, float]:
    """How much voice and room step together, dB, and the limit of that.

    Who steps so was turned up or down: no speaker does that. Where the two steps lie further apart than half
    of what speech may step, less and less of it is common.
    """
    step, room = measures.speech_step_db, measures.background_step_db
    limit = max(rules.whole_limit_db, rules.room_ratio * min(ROOM_MOST_DB, habits.room_step_db))
    if isnan(step) or isnan(room) or step * room <= 0:
        return 0.0, limit
    apart = abs(room - step) - max(rules.level_limit_db, rules.level_spread * habits.level_sd_db) / 2
    return max(0.0, min(abs(step), abs(room)) - 2 * max(0.0, apart)), limit


def _than(step: float) -> str:
    return "louder" if step > 0 else "quieter"
