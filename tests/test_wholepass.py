"""A choice changes what it is about; what an earlier pass has found is not looked for again."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

import mltassist
from mltassist.choices.kinds import Choices, LevelChoice, PauseChoice, ShotChoice
from mltassist.cutaways import covering
from mltassist.findings import Memory
from mltassist.music import measuring
from mltassist.plans import Plan
from mltassist.timeline.edits import LayShot
from tests.cli.films import short, write


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    return mltassist.open(write(short(300), tmp_path_factory.mktemp("pass"), "host.kdenlive"))


@pytest.fixture(scope="module")
def first(film) -> tuple[Plan, Memory]:
    memory = Memory()
    return mltassist.rough(film, no_look=True, known=memory), memory


def shots(plan: Plan) -> dict[str, tuple[str, int, int]]:
    laid = (edit for edit in plan.edits if isinstance(edit, LayShot) and edit.track == "cover")
    return {edit.decision: (edit.source, edit.source_in, edit.length) for edit in laid}


def chosen(plan: Plan) -> Choices:
    """Another clip for a shot, a pause, and a level."""
    laid = next(edit for edit in plan.edits if isinstance(edit, LayShot) and edit.track == "cover")
    other = next(row["clips"][0] for row in plan.figures["others"] if row["at"] == laid.at)
    level = next(one.name for one in plan.decisions if one.kind == "level")
    place = max(edit.decision for edit in plan.edits if isinstance(edit, LayShot)).rpartition(" > ")[2]
    return Choices().put(
        ShotChoice(laid.decision, "other clip", other["source"].rpartition("/")[2], other["source_in"]),
        PauseChoice(f"pause {place}", "open", Fraction(2)),
        LevelChoice(level, "set", -9.0),
    )


def test_what_is_remembered_is_neither_planned_nor_measured_again(film, first, monkeypatch):
    plan, memory = first

    def again(*_: object, **__: object) -> None:
        raise AssertionError

    for module, name in ((covering, "plan_stably"), (measuring, "_read"), (measuring, "_with")):
        monkeypatch.setattr(module, name, again)
    assert mltassist.rough(film, no_look=True, known=memory) == plan


def test_one_choice_after_the_other_comes_to_the_same_as_a_run_that_remembers_nothing(film, first):
    plan, memory = first
    all_of_them = chosen(plan)
    now = Choices()
    for choice in all_of_them:
        now = now.put(choice)
        again = mltassist.rough(film, no_look=True, choices=now, known=memory)
        assert memory.left.state == again.apply(film).state  # the page need not carry it out again
    assert again == mltassist.rough(film, no_look=True, choices=all_of_them)
    assert not [note for note in again.notes if "the choice on" in note.text]


def test_shots_that_nobody_has_decided_on_stay(film, first):
    plan, memory = first
    (shot,) = chosen(plan).shots
    before, after = (
        shots(plan),
        shots(mltassist.rough(film, no_look=True, choices=Choices().put(shot), known=memory)),
    )
    assert {name for name in before | after if before.get(name) != after.get(name)} == {shot.name}


def test_how_near_the_best_a_chosen_film_is_is_told_but_to_who_waits_for_it(film, first, monkeypatch):
    (shot,) = chosen(first[0]).shots
    monkeypatch.setattr(covering, "_bound", lambda *_: 0.0)  # as if nothing could be proven
    for hurried in (False, True):
        plan = mltassist.rough(film, no_look=True, choices=Choices().put(shot), known=Memory(hurried=hurried))
        assert (plan.figures["gap"] == 1.0) is not hurried


def test_a_recording_that_changes_is_measured_again(film, first, monkeypatch):
    _, memory = first
    heard = []
    monkeypatch.setattr(measuring, "_read", lambda *_, **__: heard.append(1))
    monkeypatch.setattr("mltassist.media.sound.mix._state", lambda path: (1, 1))
    with pytest.raises(AttributeError):  # what was measured is no reading at all
        mltassist.rough(film, no_look=True, known=memory)
    assert heard


def test_what_nobody_asked_for_is_forgotten(film):
    memory = Memory()
    assert memory.get("a", lambda: 1) == 1
    memory.done(film)
    assert memory.get("a", lambda: 2) == 1
    for _ in range(Memory.KEPT_RUNS + 1):
        memory.done(film)
    assert memory.get("a", lambda: 3) == 3


def test_a_meaning_of_a_word_is_planned_for_from_nothing():
    told = Choices(means={"wheel": ("engine",)}, never=("gulls",))
    assert told.undecided == replace(told, never=())
