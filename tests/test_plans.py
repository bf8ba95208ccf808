"""Plans: saved and read back, and re-timed when the editor leaves a pause out."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mltassist.choices.decisions import Decision
from mltassist.errors import FigureError, ProjectError
from mltassist.frames import Rate
from mltassist.plans import LEFT_OUT, Note, Plan
from mltassist.timeline.edits import (
    EDITS,
    AddMarker,
    AddTrack,
    ClearOurs,
    ClosePause,
    Edit,
    FadeJoin,
    LayNatural,
    LayShot,
    LayTone,
    LayUnder,
    MarkClip,
    MatchLevel,
    NudgeJoin,
    OpenPause,
    SetFilmGain,
    SetLevelCurve,
)
from mltassist.timeline.saved import read_parts

EDITS_OF_ALL_KINDS: tuple[Edit, ...] = (
    ClearOurs("cover", "again", (10, 20)),
    AddTrack("joins", "counted"),
    NudgeJoin(500, (2, 3), 2, -3, "a word is cut off", 2.5, 0.4, "heard", "clean"),
    FadeJoin(520, 2, "/v.wav", 90, "a click", -1.5, 1.6, 0.3, "heard", "clean"),
    LayTone(600, 30, "/v.wav", 44, "a hole", -3.0, 1, 1),
    LayShot(100, 50, "/a é.mov", 7, "covers a jump cut", name="Wheel", push_in=1.05, shape=1.333333),
    LayNatural(300, 100, "/n.mov", 3, "alive", lead=6, trail=6, gain_db=-2.5, fade_in=5, fade_out=5),
    LayUnder(100, 50, "/a é.mov", 7, "its own sound", gain_db=-1.5, fade_in=5, fade_out=5),
    OpenPause(300, 100, "asked for", (4, 5)),
    ClosePause(300, 100, "taken back"),
    MatchLevel(0, 1, -4.25, "it is louder", "/a.wav", 4.4, 0.3, "heard", "clean"),
    SetLevelCurve(0, 4, ((0, 0.0), (99, -18.25)), "music"),
    SetFilmGain(-3.25, "delivery"),
    AddMarker(40, "look", "here"),
    MarkClip("/a é.mov", 7, "the wheel", "found"),
)


def plan(*edits: Edit, notes: tuple[Note, ...] = ()) -> Plan:
    return Plan("rough", Path("/film.mlt"), Rate(25), edits, notes)


OF_THIS_VERSION = {"format": "mltassist-plan", "version": 1, "rate": [25, 1]}


def read_edits(text: str, name: str = "plan") -> tuple[Edit, ...]:
    return read_parts(text, name, {"notes": Note, "decisions": Decision})[0]


def without_pauses(*edits: Edit) -> tuple[Edit, ...]:
    return plan(*edits).keep(lambda edit: not isinstance(edit, OpenPause)).edits


@given(st.lists(st.sampled_from(EDITS_OF_ALL_KINDS)))
def test_a_saved_plan_is_read_back_whole(edits: list[Edit]) -> None:
    assert read_edits(plan(*edits).to_json()) == tuple(edits)


def test_the_test_knows_every_kind_of_edit() -> None:
    assert {type(edit) for edit in EDITS_OF_ALL_KINDS} == set(EDITS)


def test_a_saved_plan_says_what_it_is_for() -> None:
    data = json.loads(plan(notes=(Note("look", 5, True),)).to_json())
    assert (data["command"], data["project"], data["rate"]) == ("rough", "/film.mlt", [25, 1])
    assert data["notes"] == [{"text": "look", "at": 5, "needs_editor": True}]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "3",
        "{}",
        '{"format": "mltassist-plan", "version": 99, "edits": []}',
        '{"format": "mltassist-plan", "version": 1, "rate": [25, 1], "edits": 3}',
        '{"format": "mltassist-plan", "version": 1, "rate": [25, 1], "edits": [3]}',
        '{"format": "mltassist-plan", "version": 1, "rate": [25, 1], "edits": [{"edit": "Explode"}]}',
        '{"format": "mltassist-plan", "version": 1, "rate": [25, 1], "edits": [{"edit": "LayShot"}]}',
    ],
)
def test_what_is_no_plan_is_refused_with_its_name(text: str) -> None:
    with pytest.raises(ProjectError, match=r"^my\.json: "):
        read_edits(text, "my.json")


GAIN = {"edit": "SetFilmGain", "reason": ""}
CURVE = {"edit": "SetLevelCurve", "at": 1, "track": 1, "reason": ""}
CLEAR = {"edit": "ClearOurs", "what": "cover", "reason": ""}
SHOT = {"edit": "LayShot", "at": 3, "length": 50, "source": "/a.mov", "source_in": 7, "reason": ""}


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        ({**SHOT, "at": "ten"}, '(LayShot): at: "ten" should be a whole number'),
        ({**SHOT, "at": 3.0}, "(LayShot): at: 3.0 should be a whole number"),
        ({**SHOT, "at": True}, "(LayShot): at: true should be a whole number"),
        ({**SHOT, "at": -1}, "(LayShot): at: -1 should be 0 to 1000000000"),
        ({**SHOT, "length": 0}, "(LayShot): length: 0 should be 1 to 1000000000"),
        ({**SHOT, "reason": None}, "(LayShot): reason: null should be text in quotes"),
        (
            {**SHOT, "name": {"a" * 50: 1}},
            '(LayShot): name: {"' + "a" * 37 + "… should be text in quotes",
        ),
        ({**SHOT, "lenght": 3}, "(LayShot): unknown key lenght"),
        ({k: v for k, v in SHOT.items() if k != "source_in"}, "(LayShot): source_in: is missing"),
        ({**GAIN, "gain_db": "loud"}, '(SetFilmGain): gain_db: "loud" should be a number'),
        (
            {**GAIN, "gain_db": float("nan")},
            "(SetFilmGain): gain_db: nan is not a number that can be used",
        ),
        ({**CLEAR, "keep": [1, 2.5]}, "(ClearOurs): keep[1]: 2.5 should be a whole number"),
        ({**CLEAR, "keep": "12"}, '(ClearOurs): keep: "12" should be a list'),
        ({**CURVE, "keys": [[1, 0], [2]]}, "(SetLevelCurve): keys[1]: [2] should be a list of 2"),
        ({**CURVE, "keys": [[1, 0], 2]}, "(SetLevelCurve): keys[1]: 2 should be a list"),
        ({**CURVE, "keys": []}, "(SetLevelCurve): keys: there are none"),
        ({**CURVE, "keys": [[2, 0], [1, 2]]}, "(SetLevelCurve): keys: their frames fall"),
        (
            {**CURVE, "keys": [[1, 10**400]]},
            "(SetLevelCurve): keys[0]: 1" + 38 * "0" + "… should be -200 to 200",
        ),
        (
            {**GAIN, "gain_db": 10**400},
            "(SetFilmGain): gain_db: 1" + 38 * "0" + "… should be -200 to 200",
        ),
        ({"edit": ["LayShot"]}, ': there is no kind of edit called ["LayShot"]'),
        (3, "is 3, not an object"),
    ],
)
def test_what_was_changed_by_hand_is_refused_with_edit_and_field(edit: object, told: str) -> None:
    text = json.dumps(OF_THIS_VERSION | {"edits": [SHOT, edit]})
    with pytest.raises(ProjectError) as caught:
        read_edits(text, "my.json")
    space = "" if told.startswith(":") else " "
    assert str(caught.value) == f"my.json: edit 2{space}{told}; mend it, or make it again with --plan"


def test_every_mistake_of_a_plan_is_told() -> None:
    edits = [{**SHOT, "at": -1, "name": 3, "lenght": 3}, SHOT, 3, {**GAIN, "gain_db": float("inf")}]
    with pytest.raises(ProjectError) as caught:
        read_edits(
            json.dumps({"format": "mltassist-plan", "version": 1, "rate": [25, 1], "edits": edits}), "my.json"
        )
    told = str(caught.value).removeprefix("my.json: ").split("; ")
    assert sorted(told[:3]) == [
        "edit 1 (LayShot): at: -1 should be 0 to 1000000000",
        "edit 1 (LayShot): name: 3 should be text in quotes",
        "edit 1 (LayShot): unknown key lenght",
    ]
    assert told[3:5] == [
        "edit 3 is 3, not an object",
        "edit 4 (SetFilmGain): gain_db: inf is not a number that can be used",
    ]


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: LayShot(-1, 0, "/a.mov", 7, ""), "LayShot: at: -1 should be 0 to 1000000000; length: 0"),
        (lambda: OpenPause(3, 5.0, ""), "OpenPause: length: 5.0 should be a whole number"),
        (lambda: SetFilmGain(float("nan"), ""), "SetFilmGain: gain_db: nan is not a number"),
        (lambda: SetLevelCurve(0, 1, (), ""), "SetLevelCurve: keys: there are none"),
        (lambda: SetLevelCurve(0, 1, ((5, 0.0), (4, 0.0)), ""), "SetLevelCurve: keys: their frames fall"),
        (lambda: SetLevelCurve(0, 1, ((5, float("inf")),), ""), "SetLevelCurve: keys: inf is not a number"),
        (lambda: ClearOurs("duck", "", (1, -2)), "ClearOurs: keep: -2 should be 0 to"),
    ],
)
def test_edits_made_in_python_keep_the_same_bounds(make: Callable[[], Edit], told: str) -> None:
    with pytest.raises(FigureError) as caught:
        make()
    assert str(caught.value).startswith(told)


def test_a_whole_number_of_decibels_is_one() -> None:
    edit = {"edit": "SetFilmGain", "gain_db": -3, "reason": ""}
    text = json.dumps(OF_THIS_VERSION | {"edits": [edit]})
    assert read_edits(text) == (SetFilmGain(-3.0, ""),)
    with pytest.raises(ProjectError, match="nested too deeply"):
        read_edits("[" * 200_000)


def test_a_note_is_told_with_its_timecode() -> None:
    assert Note("look", 50).told(Rate(25)) == "00:00:02:00  look"
    assert Note("look").told(Rate(25)) == "look"
    assert plan(notes=(Note("a"), Note("b", needs_editor=True))).needs_editor
    assert not plan(notes=(Note("a"),)).needs_editor


def test_keeping_everything_changes_nothing() -> None:
    assert plan(*EDITS_OF_ALL_KINDS).keep(lambda _: True) == plan(*EDITS_OF_ALL_KINDS)


def test_without_a_pause_what_follows_moves_back_and_what_lay_in_it_goes() -> None:
    before = LayShot(100, 60, "/a.mov", 0, "")
    assert without_pauses(
        OpenPause(200, 50, ""),
        LayNatural(200, 50, "/n.mov", 0, ""),
        before,
        LayShot(400, 60, "/b.mov", 0, ""),
        AddMarker(210, "in it", ""),
        AddMarker(250, "just after it", ""),
    ) == (before, LayShot(350, 60, "/b.mov", 0, ""), AddMarker(200, "just after it", ""))


def test_a_shot_that_is_left_out_moves_nothing() -> None:
    kept = plan(LayShot(10, 50, "/a.mov", 0, ""), AddMarker(100, "x", "")).keep(
        lambda edit: not isinstance(edit, LayShot)
    )
    assert kept.edits == (AddMarker(100, "x", ""),)


def test_a_curve_over_a_pause_that_is_left_out_loses_its_keys_there() -> None:
    keys = ((0, 0.0), (190, -18.0), (199, -18.0), (205, -8.0), (249, -8.0), (260, -18.0), (400, 0.0))
    (curve,) = without_pauses(OpenPause(200, 50, ""), SetLevelCurve(0, 4, keys, ""))
    assert isinstance(curve, SetLevelCurve)
    assert curve.keys == ((0, 0.0), (190, -18.0), (199, -18.0), (210, -18.0), (350, 0.0))


def test_a_pause_opened_earlier_in_the_film_moves_the_place_of_one_that_is_left_out() -> None:
    late, early = OpenPause(1000, 50, "late"), OpenPause(500, 40, "early")
    kept = plan(
        late,
        early,
        LayShot(1000, 40, "/before.mov", 0, ""),
        LayShot(1045, 40, "/inside.mov", 0, ""),
        LayShot(1090, 40, "/after.mov", 0, ""),
    ).keep(lambda edit: edit != late)
    assert kept.edits == (
        early,
        LayShot(1000, 40, "/before.mov", 0, ""),
        LayShot(1040, 40, "/after.mov", 0, ""),
    )


def test_a_pause_opened_inside_one_that_is_left_out_goes_with_it() -> None:
    outer, inner = OpenPause(100, 50, "outer"), OpenPause(120, 30, "inner")
    kept = plan(outer, inner, LayShot(180, 60, "/a.mov", 0, "")).keep(lambda edit: edit != outer)
    assert kept.edits == (LayShot(100, 60, "/a.mov", 0, ""),)


def test_leaving_out_all_pauses_takes_back_all_their_time() -> None:
    shot = LayShot(1000, 60, "/a.mov", 0, "")
    assert without_pauses(OpenPause(700, 30, ""), OpenPause(200, 50, ""), shot) == (
        LayShot(920, 60, "/a.mov", 0, ""),
    )


def test_what_follows_a_join_that_is_not_moved_goes_back() -> None:
    mend = NudgeJoin(50, (1,), 3, -2, "a word is cut off")
    before, after = LayShot(10, 20, "/a.mov", 0, "cover"), LayShot(60, 20, "/a.mov", 40, "cover")
    kept = plan(mend, before, after).keep(lambda edit: edit is not mend).edits
    assert kept == (before, LayShot(55, 20, "/a.mov", 40, "cover"))


def test_tracks_keep_their_numbers_where_what_made_them_is_left_out() -> None:
    cross, tone = FadeJoin(80, 2, "/v.wav", 90, ""), LayTone(120, 30, "/v.wav", 44, "")
    later = (OpenPause(300, 50, "late", (1,)), LayNatural(300, 50, "/n.mov", 0, ""))
    sooner = (
        OpenPause(40, 25, "soon", (2,)),
        LayNatural(40, 25, "/n.mov", 0, ""),
        LayShot(9, 9, "/a.mov", 0, ""),
    )
    whole = plan(cross, tone, *later, *sooner)

    def kept(*gone: Edit) -> list[str]:
        left = whole.keep(lambda edit: edit not in gone).edits
        return [edit.role if isinstance(edit, AddTrack) else type(edit).__name__ for edit in left]

    last = ["OpenPause", "LayNatural", "LayShot"]
    assert kept(cross) == ["joins", "LayTone", "OpenPause", "LayNatural", *last]
    assert kept(tone) == ["FadeJoin", "OpenPause", "LayNatural", *last]
    assert kept(cross, tone, *later) == ["joins", "natural picture", "natural", *last]
    assert kept(later[0]) == ["FadeJoin", "LayTone", "natural picture", "natural", *last]
    assert kept(*sooner, cross, later[0]) == ["LayTone"]


def test_notes_move_with_the_film_and_figures_go_where_edits_are_left_out() -> None:
    pause, mend = OpenPause(200, 50, ""), NudgeJoin(100, (1,), 3, 1, "")
    notes = (*(Note(str(at), at, at == 300) for at in (102, 103, 200, 249, 300)), Note("all"))
    whole = replace(plan(mend, pause, notes=notes), figures={"shots": 3})
    assert whole.keep(lambda _: True) is whole
    bare = whole.keep(lambda edit: edit is mend)
    assert [(note.text, note.at) for note in bare.notes[:-1]] == [
        ("102", 102),
        ("103", 103),
        ("300", 250),
        ("all", None),
    ]
    assert bare.needs_editor
    assert bare.notes[-1] == LEFT_OUT
    assert bare.figures == {}
    twice = bare.keep(lambda _: False)
    assert [note.at for note in twice.notes] == [102, 100, 248, None, None]
    assert twice.notes.count(LEFT_OUT) == 1


def test_what_stands_at_a_join_stays_there_where_the_join_is_not_moved() -> None:
    nudge = NudgeJoin(100, (1,), 3, 2, "")
    fade = FadeJoin(103, 1, "/a.wav", 52, "", 0.0, 2.0, 0.5, "heard", "clean")
    edits = (nudge, fade, AddMarker(103, "a click", ""), AddMarker(200, "later", ""))
    plan = Plan("listen", Path("a.mlt"), Rate(25), edits, (Note("a click", 103),))
    left = plan.keep(lambda edit: not isinstance(edit, NudgeJoin))
    assert [(edit.at, getattr(edit, "source_in", None)) for edit in left.edits] == [
        (100, 50),
        (100, None),
        (199, None),
    ]
    assert left.notes[0].at == 100


def test_a_pause_earlier_in_the_film_moves_the_place_of_a_join_that_is_not_moved() -> None:
    nudge, pause = NudgeJoin(500, (1,), 3, -2, ""), OpenPause(200, 50, "")
    kept = plan(nudge, pause, LayShot(520, 20, "/a.mov", 0, ""), LayShot(600, 20, "/b.mov", 0, ""))
    assert kept.keep(lambda edit: edit is not nudge).edits == (
        pause,
        LayShot(520, 20, "/a.mov", 0, ""),
        LayShot(595, 20, "/b.mov", 0, ""),
    )


def test_a_pause_at_a_join_opens_at_it_where_the_join_is_not_moved() -> None:
    """Else it would split the clip after the join, by the frames that were to be taken off it."""
    nudge = NudgeJoin(100, (1,), 2, 6, "")
    pause, natural = OpenPause(102, 50, ""), LayNatural(102, 50, "/n.mov", 0, "")
    shot = LayShot(180, 20, "/a.mov", 0, "")
    kept = plan(nudge, pause, natural, shot).keep(lambda edit: edit is not nudge)
    assert kept.edits == (replace(pause, at=100), replace(natural, at=100), replace(shot, at=184))


def test_the_curve_of_music_that_begins_at_a_join_stays_on_it_where_the_join_is_not_moved() -> None:
    """The music begins 6 frames earlier with the join moved, before where the join then lies."""
    nudge = NudgeJoin(100, (1,), 0, 6, "")
    curve = SetLevelCurve(94, 4, ((94, 0.0), (200, -9.0)), "music", source="/m.wav")
    kept = plan(nudge, curve).keep(lambda edit: edit is not nudge)
    assert kept.edits == (SetLevelCurve(100, 4, ((100, 0.0), (206, -9.0)), "music", source="/m.wav"),)


def test_an_edit_is_chosen_as_the_plan_has_it() -> None:
    pause, shot = OpenPause(200, 50, ""), LayShot(300, 20, "/a.mov", 0, "")
    kept = plan(pause, shot).keep(lambda edit: edit in (shot,))
    assert kept.edits == (LayShot(250, 20, "/a.mov", 0, ""),)


def test_the_curve_of_a_kept_sound_goes_with_the_sound() -> None:
    sound = LayUnder(100, 50, "/a.mov", 0, "")
    own = SetLevelCurve(100, 4, ((100, -3.0),), "", source="/a.mov")
    other = SetLevelCurve(100, 2, ((100, -3.0),), "", source="/b.mov")
    left = plan(sound, own, other).keep(lambda edit: edit is not sound).edits
    assert [edit for edit in left if isinstance(edit, SetLevelCurve)] == [other]
    assert plan(sound, own, other).keep(lambda edit: edit is not other).edits == (sound, own)
