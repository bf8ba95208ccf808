"""What was decided on the example film is obeyed by every part of the pass, or told."""

from __future__ import annotations

import json
from fractions import Fraction

import numpy as np
import pytest

import mltassist
from mltassist.choices.kinds import Choices, JoinChoice, LevelChoice, PauseChoice, ShotChoice
from mltassist.plans import Plan
from mltassist.timeline.edits import LayNatural, LayShot, MatchLevel, NudgeJoin, OpenPause, SetLevelCurve
from tests.docs import pages

SWAPPED = ShotChoice("shot 733 ines.mp4 > 962 ines.mp4", "other clip", "wheel-cu.mp4", 30)
LONGER = ShotChoice("shot 1684 ines.mp4 > 1888 ines.mp4", "accepted", "wheel-ws.mp4", -1, -3, 4)
FACE = ShotChoice("shot 1053 ines.mp4 > 1264 ines.mp4", "face stays")
REFUSED = ShotChoice("shot 19-20 narrator.m4a > 143 narrator.m4a", "refused", "mud banks CU")
LOST = ShotChoice("shot 5187 ines.mp4 > 5461 ines.mp4", "refused", "mud*")
UNKNOWN = ShotChoice("shot 1060 tobias.mp4 > 329 narrator.m4a", "other clip", "nowhere.mp4", 0)
MOVED = JoinChoice("join 264 ines.mp4 > 406 ines.mp4", "moved", 2, -1)
OPENED = PauseChoice("pause 674 narrator.m4a", "open", Fraction(3), "gate winch")
NO_PAUSE = PauseChoice("pause 1363 ines.mp4", "refused")
QUIETER = LevelChoice("level:music 119 narrator.m4a", "set", -10.0)
MATCHED = LevelChoice("match 20 tobias.mp4", "set", -2.5)
CHOICES = Choices(never=("rising tide*", "wheel splash"), means={"flour": ("creek",)}).put(
    *(SWAPPED, LONGER, FACE, REFUSED, LOST, UNKNOWN),
    *(MOVED, OPENED, NO_PAUSE, QUIETER, MATCHED),
)


@pytest.fixture(scope="module")
def film() -> mltassist.Project:
    return mltassist.open(pages.FILM / "saltreed.mlt")


@pytest.fixture(scope="module")
def plan(film: mltassist.Project) -> Plan:
    pauses = [("let the wheel be heard", Fraction(5))]
    return mltassist.rough(film, pauses=pauses, choices=CHOICES, no_look=True)


def shots(plan: Plan) -> dict[str, LayShot]:
    return {edit.decision: edit for edit in plan.edits if isinstance(edit, LayShot)}


def test_a_shot_is_what_was_chosen_where_its_words_are(plan: Plan) -> None:
    swapped, longer = (shots(plan)[one.name] for one in (SWAPPED, LONGER))
    assert (swapped.name, swapped.source_in, swapped.length) == ("wheel CU", 30, 110)
    # Three frames earlier and four longer than the 94 between the frames that its name says.
    assert (longer.name, longer.length) == ("wheel WS", 101)


def test_a_face_that_is_to_stay_is_not_covered(plan: Plan, film: mltassist.Project) -> None:
    (stays,) = [one for one in plan.decisions if one.name == FACE.name]
    assert stays.about == "the face stays"
    assert not [shot for shot in shots(plan).values() if shot.at <= stays.at < shot.at + shot.length]


def test_what_was_refused_is_not_laid_there_and_what_is_never_laid_nowhere(plan: Plan) -> None:
    first = min(shots(plan).values(), key=lambda shot: shot.at)
    assert (first.at, first.name != "mud banks CU") == (0, True)
    assert not [shot for shot in shots(plan).values() if shot.name.startswith("rising tide")]


def test_a_word_means_what_it_was_said_to_mean(plan: Plan) -> None:
    told = {(row["word"], row["tag"]) for row in plan.figures["matched"]}
    assert ("creek", "flour") in told


def test_a_join_is_moved_as_chosen_and_not_again(plan: Plan, film: mltassist.Project) -> None:
    (nudge,) = [edit for edit in plan.edits if isinstance(edit, NudgeJoin)]
    assert (nudge.before_by, nudge.after_by, nudge.decision) == (2, -1, MOVED.name)
    assert nudge.verdict_after == "clean"
    moved = film.with_edits([nudge])
    again = mltassist.listen(moved, mend=True, choices=Choices(joins=(MOVED,))).plan
    assert again is not None
    assert [edit for edit in again.edits if isinstance(edit, NudgeJoin)] == []
    assert [one.choice for one in again.decisions if one.name == MOVED.name] == ["moved"]
    left = Choices(joins=(JoinChoice("join 266 ines.mp4 > 405 ines.mp4", "moved", -2, 1),))
    back = mltassist.listen(moved, mend=True, choices=left).plan
    assert back is not None
    assert back.apply(moved).timeline.tracks == film.timeline.tracks


def test_a_bite_and_the_music_have_the_level_that_was_chosen(plan: Plan) -> None:
    (bite,) = [edit for edit in plan.edits if isinstance(edit, MatchLevel)]
    assert (bite.gain_db, bite.decision) == (-2.5, MATCHED.name)
    (level,) = [one for one in plan.decisions if one.name == QUIETER.name]
    curves = [edit.keys for edit in plan.edits if isinstance(edit, SetLevelCurve)]
    assert -10.0 in [round(float(np.interp(level.at + 9, *zip(*keys, strict=True))), 3) for keys in curves]


def test_a_pause_is_opened_where_it_was_chosen_and_none_where_it_was_refused(plan: Plan) -> None:
    (opened,) = [edit for edit in plan.edits if isinstance(edit, OpenPause)]
    assert (opened.length, opened.decision) == (75, OPENED.name)
    (heard,) = [edit for edit in plan.edits if isinstance(edit, LayNatural)]
    assert heard.name == "gate winch"
    assert any("is not opened: it was refused" in note.text for note in plan.notes)


def test_what_cannot_be_obeyed_is_told(plan: Plan) -> None:
    told = [note for note in plan.notes if note.text.startswith("the choice on ")]
    assert [LOST.name in note.text for note in told].count(True) == 1
    assert [UNKNOWN.name in note.text and note.needs_editor for note in told].count(True) == 1
    assert len(told) == 2


def test_decisions_say_what_was_chosen_for_them(plan: Plan) -> None:
    told = {one["name"]: one["choice"] for one in json.loads(plan.to_json())["decisions"]}
    obeyed = {row.name: row.choice for row in CHOICES if row not in (LOST,)}
    assert {name: told.get(name) for name in obeyed} == obeyed
    assert list(told.values()).count("") > 20
