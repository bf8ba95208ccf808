"""Where frames, tracks and clips lie after edits, and where later edits lie without them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from mltassist.timeline.edits import (
    AddMarker,
    AddTrack,
    ClearOurs,
    Edit,
    FadeJoin,
    LayNatural,
    LayShot,
    LayTone,
    LayUnder,
    NudgeJoin,
    OpenPause,
    SetFilmGain,
    SetLevelCurve,
)
from mltassist.timeline.moves import Moves, back_of, moves_of, moves_of_all
from tests.timeline.films import row, timeline, track

PAUSE, NUDGE = OpenPause(100, 50, "", (2,)), NudgeJoin(100, (1, 2), 3, 1, "")
FRAMES = st.integers(0, 400)
PAUSES = st.builds(OpenPause, FRAMES, st.integers(1, 90), st.just(""))
NUDGES = st.builds(
    NudgeJoin, st.integers(20, 400), st.just((1,)), st.integers(-9, 9), st.integers(-9, 9), st.just("")
)


def shot(at: int, length: int = 1) -> LayShot:
    return LayShot(at, length, "/a.mov", 0, "")


def test_a_pause_moves_all_from_its_frame_on() -> None:
    moves = moves_of(PAUSE)
    assert [moves.frame(at) for at in (0, 99, 100, 101)] == [0, 99, 150, 151]
    assert [moves.mark(at) for at in (99, 100)] == [99, 150]
    assert [moves.clip(2, at) for at in (99, 100)] == [(2, 99), (2, 150)]
    assert moves.track(7) == 7


def test_what_stands_at_a_join_goes_with_it_and_all_else_by_its_shift() -> None:
    moves = moves_of(NUDGE)
    assert [moves.frame(at) for at in (99, 100, 101)] == [99, 102, 103]
    assert [moves.mark(at) for at in (99, 100, 101)] == [99, 103, 103]
    assert [moves.clip(number, 100) for number in (1, 2, 3)] == [(1, 103), (2, 103), (3, 102)]


@pytest.mark.parametrize(
    ("at", "starts"), [(40, (0, 110, 140, 180)), (60, (0, 60, 140, 180)), (95, (0, 60, 90, 180))]
)
def test_clips_that_run_on_through_a_pause_move_by_what_their_source_has_to_spare(
    at: int, starts: tuple[int, ...]
) -> None:
    # Three pieces with nothing removed; their source of 1000 frames ends 50 frames after the last of them.
    items = row(("music", 60, 850), ("music", 30, 910), ("music", 10, 940), ("other", 20, 0))
    film = timeline(track(1, "Interview", row(("talk", 300))), track(2, "Music", items, sound=True))
    pause = OpenPause(at, 80, "", (2,))
    moves = moves_of(pause, film)
    assert tuple(moves.clip(2, clip.start)[1] for clip in items) == starts
    assert moves_of(pause).clip(2, 60) == (2, 140 if at <= 60 else 60)
    assert moves_of(replace(pause, run_on=(1,)), film).clip(2, 90) == (2, 170 if at <= 90 else 90)
    short = moves_of(replace(pause, length=20), film)
    assert [short.clip(2, clip.start)[1] for clip in items[2:]] == [110 if at < 90 else 90, 120]


def test_tracks_that_an_edit_makes_count_those_above_anew() -> None:
    before = timeline(track(1, "Music"), track(2, "Interview"), track(3, "Cutaways"))
    after = timeline(
        track(1, "ours", ours="natural"),
        track(2, "Music"),
        track(3, "Interview"),
        track(4, "ours", ours="natural picture"),
        track(5, "Cutaways"),
    )
    moves = moves_of(LayNatural(20, 30, "/n.mov", 0, ""), before, after)
    assert [moves.track(number) for number in (1, 2, 3)] == [2, 3, 5]
    assert moves.clip(3, 20) == (5, 20)
    assert moves_of(AddTrack("natural", ""), after, after) == Moves()


@given(st.lists(PAUSES | NUDGES), st.lists(PAUSES | NUDGES), FRAMES)
def test_maps_are_put_together_as_edits_are(some: list[Edit], others: list[Edit], at: int) -> None:
    first, second = moves_of_all(some), moves_of_all(others)
    both = first.then(second)
    assert both == moves_of_all([*some, *others])
    assert both.frame(at) == second.frame(first.frame(at))
    assert both.mark(at) == second.mark(first.mark(at))
    assert both.clip(1, at) == second.clip(*first.clip(1, at))
    assert both.track(1) == 1


# --- the way back ---------------------------------------------------------------------------------

PLACED = (
    shot(150, 50),
    LayNatural(150, 50, "/a.mov", 7, ""),
    LayUnder(150, 50, "/a.mov", 7, ""),
    LayTone(150, 50, "/a.mov", 7, ""),
    FadeJoin(150, 1, "/a.mov", 7, ""),
    NudgeJoin(150, (1,), 1, 0, ""),
    OpenPause(150, 50, "", (3,)),
    AddMarker(150, "look", ""),
)


@pytest.mark.parametrize("edit", PLACED, ids=lambda edit: type(edit).__name__)
def test_an_edit_after_a_pause_that_is_not_opened_lies_so_much_earlier(edit: LayShot) -> None:
    back = back_of(PAUSE)
    assert back.edit(edit) == replace(edit, at=100)
    assert back.edit(replace(edit, at=149)) is None
    assert back.edit(replace(edit, at=30)) == replace(edit, at=30)
    assert back.past(edit).edit(ClearOurs("cover", "")) == ClearOurs("cover", "")


def test_what_reaches_into_a_pause_that_is_not_opened_has_no_place() -> None:
    back = back_of(PAUSE)
    assert [back.edit(shot(at, 20)) for at in (80, 81, 149)] == [shot(80, 20), None, None]
    assert back.edit(OpenPause(100, 20, "")) == OpenPause(100, 20, "")
    assert back.edit(SetFilmGain(-3.0, "")) == SetFilmGain(-3.0, "")


def test_the_keys_of_a_curve_go_back_one_by_one() -> None:
    back = back_of(PAUSE)
    curve = SetLevelCurve(60, 3, ((60, 0.0), (99, -9.0), (120, -12.0), (150, -10.0), (200, 0.0)), "")
    keys = ((60, 0.0), (99, -9.0), (100, -10.0), (150, 0.0))
    assert back.edit(curve) == replace(curve, keys=keys)
    assert back.edit(replace(curve, what="fade")) is None
    assert back.edit(replace(curve, at=120)) is None


@given(st.lists(PAUSES), FRAMES)
def test_what_lay_on_the_film_before_is_found_again_on_the_way_back(pauses: list[OpenPause], at: int) -> None:
    back, moves = Moves(), moves_of_all(pauses)
    for pause in pauses:
        back = back_of(pause).then(back)
    assert back.edit(shot(moves.mark(at))) == shot(at)


@given(PAUSES, st.data())
def test_what_lies_in_a_pause_has_no_earlier_place(pause: OpenPause, data: st.DataObject) -> None:
    inside = data.draw(st.integers(pause.at, pause.at + pause.length - 1))
    assert back_of(pause).edit(AddMarker(inside, "look", "")) is None


@given(PAUSES, PAUSES, FRAMES, st.data())
def test_a_pause_that_is_kept_moves_the_way_back(
    gone: OpenPause, kept: OpenPause, at: int, data: st.DataObject
) -> None:
    back, both = back_of(gone), moves_of_all([gone, kept])
    now = back.edit(kept)
    if now is None:
        assert gone.at < kept.at < gone.at + gone.length
        return
    assert isinstance(now, OpenPause)
    assert back.past(kept).edit(shot(both.mark(at))) == shot(moves_of(now).mark(at))
    inside = data.draw(st.integers(0, kept.length - 1))
    assert back.past(kept).edit(shot(kept.at + inside)) == shot(now.at + inside)


@given(NUDGES, PAUSES, FRAMES, st.booleans(), st.booleans())
def test_a_pause_moves_the_place_of_a_join_that_is_not_moved(
    gone: NudgeJoin, kept: OpenPause, at: int, opens_at_it: bool, stands_at_it: bool
) -> None:
    if opens_at_it:
        kept = replace(kept, at=gone.joined_at)
    at = gone.at if stands_at_it else at
    # The frames that a join gives and takes have no place of their own in the other film.
    assume(opens_at_it or abs(kept.at - gone.at) > 20)
    assume(stands_at_it or abs(at - gone.at) > 20)
    back, both = back_of(gone), moves_of_all([gone, kept])
    now = back.edit(kept)
    assert isinstance(now, OpenPause)
    if opens_at_it:
        assert now.at == gone.at
    assert back.past(kept).edit(shot(both.mark(at))) == shot(moves_of(now).mark(at))


@given(NUDGES, st.integers(0, 40))
def test_what_lies_behind_a_join_lies_behind_it_where_it_is_not_moved(nudge: NudgeJoin, later: int) -> None:
    found = back_of(nudge).edit(shot(nudge.joined_at + later))
    assert isinstance(found, LayShot)
    assert found.at >= nudge.at
    if later > max(0, -nudge.after_by):
        assert found.at == nudge.joined_at + later - nudge.shift > nudge.at


@given(NUDGES, FRAMES)
def test_music_that_begins_at_a_join_is_found_where_the_join_is_not_moved(nudge: NudgeJoin, at: int) -> None:
    back, moves = back_of(nudge), moves_of(nudge)
    start = moves.clip(3, at)[1]
    curve = SetLevelCurve(start, 3, ((start, 0.0), (start + 50, -9.0)), "", source="/m.wav")
    found = back.edit(curve)
    assert isinstance(found, SetLevelCurve)
    assert all(a < b for (a, _), (b, _) in zip(found.keys, found.keys[1:], strict=False))
    if at >= nudge.at or start < nudge.at + nudge.shift:
        assert found.at == found.keys[0][0] == at
    assert back.edit(AddMarker(moves.mark(nudge.at), "a click", "")) == AddMarker(nudge.at, "a click", "")
    crossed = FadeJoin(nudge.joined_at, 1, "/v.wav", 90 + nudge.after_by, "")
    assert back.edit(crossed) == FadeJoin(nudge.at, 1, "/v.wav", 90, "")
