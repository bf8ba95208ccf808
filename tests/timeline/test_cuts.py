"""What kind of edit each edit in speech is, and whether the editor has covered it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from mltassist.frames import Span
from mltassist.recipe.rules import Recipe
from mltassist.timeline.cuts import CutKind, SpeechEdit, speech_edits, stretches
from mltassist.timeline.elements import Element, find_elements
from mltassist.timeline.model import Dissolve, Item, SourceKind, Track
from tests.timeline.films import clip, row, timeline, track

WORDS = Recipe().vocabulary()


def edits(*tracks: Track, ours: bool = False) -> tuple[SpeechEdit, ...]:
    film = timeline(*tracks)
    return speech_edits(film, find_elements(film, WORDS), ours=ours)


def kinds(*items: Item) -> list[tuple[int, CutKind]]:
    return [(edit.at, edit.kind) for edit in edits(track(1, "Interview", items))]


JUMP = row(("ines", 100, 0), ("ines", 100, 150))


def test_a_through_edit_cuts_nothing_out() -> None:
    (edit,) = edits(track(1, "Interview", row(("ines", 100, 20), ("ines", 100, 120))))
    assert (edit.at, edit.kind, edit.removed) == (100, CutKind.THROUGH, 0)


def test_a_jump_cut_leaves_frames_out_or_turns_them_round() -> None:
    (out,) = edits(track(1, "Interview", JUMP))
    assert (out.at, out.kind, out.removed) == (100, CutKind.JUMP, 50)
    (back,) = edits(track(1, "Interview", row(("ines", 100, 150), ("ines", 100, 0))))
    assert (back.kind, back.removed) == (CutKind.JUMP, -250)


def test_another_source_is_a_change() -> None:
    (edit,) = edits(track(1, "Interview", row(("ines", 100, 0), ("tobias", 100, 150))))
    assert (edit.kind, edit.removed) == (CutKind.CHANGE, 0)


def test_another_speed_is_no_through_edit() -> None:
    first, second = clip("ines", 0, 100, 20), clip("ines", 100, 100, 120)
    slow = replace(second, speed=Fraction(1, 2))
    assert kinds(first, slow) == [(100, CutKind.CHANGE)]


def test_a_clip_at_double_speed_runs_on_where_its_source_does() -> None:
    first = replace(clip("ines", 0, 50), speed=Fraction(2))
    second = replace(clip("ines", 50, 50, 100), speed=Fraction(2))
    assert kinds(first, second) == [(50, CutKind.THROUGH)]
    (edit,) = edits(track(1, "Interview", [first, replace(second, source_in=130)]))
    assert (edit.kind, edit.removed) == (CutKind.JUMP, 30)


def test_a_gap_between_bites_is_no_edit() -> None:
    assert kinds(*row(("ines", 100, 0), (None, 1), ("ines", 100, 300))) == []


def test_a_dissolve_is_told_once_where_it_begins() -> None:
    dissolve = Dissolve(90, 10, clip("ines", 90, 10, 90), clip("ines", 90, 10, 300))
    assert kinds(clip("ines", 0, 90), dissolve, clip("ines", 100, 50, 310)) == [(90, CutKind.DISSOLVED)]


def test_every_dissolve_of_a_row_is_told() -> None:
    first = Dissolve(90, 10, clip("ines", 90, 10, 90), clip("tobias", 90, 10, 300))
    second = Dissolve(100, 10, clip("tobias", 100, 10, 310), clip("ines", 100, 10, 200))
    found = kinds(clip("ines", 0, 90), first, second, clip("ines", 110, 50, 210))
    assert found == [(90, CutKind.DISSOLVED), (100, CutKind.DISSOLVED)]


def test_a_dissolve_at_the_start_of_a_track_is_told() -> None:
    dissolve = Dissolve(0, 10, clip("ines", 0, 10), clip("tobias", 0, 10))
    assert kinds(dissolve, clip("tobias", 10, 50, 10)) == [(0, CutKind.DISSOLVED)]


def test_picture_above_covers_an_edit_as_does_one_that_begins_or_ends_there() -> None:
    bites = track(1, "Interview", JUMP)
    over = track(2, "Cutaways", row((None, 80), ("wheel", 40)))
    assert [edit.covered for edit in edits(bites, over)] == [True]
    assert [edit.covered for edit in edits(bites, replace(over, hidden=True))] == [False]
    ends_there = track(2, "Cutaways", row((None, 80), ("wheel", 20)))
    assert [edit.covered for edit in edits(bites, ends_there)] == [True]
    begins_there = track(2, "Cutaways", row((None, 100), ("wheel", 20)))
    assert [edit.covered for edit in edits(bites, begins_there)] == [True]
    short_of_it = track(2, "Cutaways", row((None, 80), ("wheel", 19)))
    assert [edit.covered for edit in edits(bites, short_of_it)] == [False]


def test_two_pictures_that_meet_over_the_edit_cover_it() -> None:
    over = track(2, "Cutaways", row((None, 80), ("wheel", 20), ("gate", 20)))
    assert [edit.covered for edit in edits(track(1, "Interview", JUMP), over)] == [True]


def test_the_same_interview_above_covers_nothing() -> None:
    over = track(2, "Cutaways", row((None, 80), ("ines", 40)))
    assert [edit.covered for edit in edits(track(1, "Interview", JUMP), over)] == [False]


def test_a_face_that_jumps_with_sound_of_another_file_covers_nothing() -> None:
    sound = track(2, "Interview sound", row(("recorder", 100, 0), ("recorder", 100, 150)), sound=True)
    camera = track(1, "Interview", JUMP, muted=True)
    assert [edit.covered for edit in edits(camera, sound)] == [False]
    moved = track(1, "Interview", row(("ines", 106, 0), ("ines", 94, 156)), muted=True)
    assert [edit.covered for edit in edits(moved, sound)] == [False]
    listener = track(3, "Interview B", row((None, 80), ("tobias", 40)), muted=True)
    assert [edit.covered for edit in edits(camera, listener, sound)] == [True]


@pytest.mark.parametrize(("apart", "same_edit"), [(-14, False), (-13, True), (13, True), (14, False)])
def test_a_cut_of_the_face_within_half_a_second_is_the_same_edit(apart: int, same_edit: bool) -> None:
    """Half a second is 12.5 frames, so 13 here; beyond, the face is another picture."""
    sound = track(2, "Interview sound", row(("recorder", 100, 0), ("recorder", 100, 150)), sound=True)
    face = row(("ines", 100 + apart, 0), ("ines", 100 - apart, 150 + apart))
    assert [edit.covered for edit in edits(track(1, "Interview", face, muted=True), sound)] == [not same_edit]


def test_a_title_above_covers_nothing() -> None:
    title = track(2, "Titles", [clip("name", 80, 40, kind=SourceKind.TITLE)])
    assert [edit.covered for edit in edits(track(1, "Interview", JUMP), title)] == [False]


def test_cover_of_an_earlier_run_counts_only_when_asked_for() -> None:
    bites = track(1, "Interview", JUMP)
    over = track(2, "Cutaways", row((None, 80), ("wheel", 40)), ours="cover")
    assert [edit.covered for edit in edits(bites, over)] == [False]
    assert [edit.covered for edit in edits(bites, over, ours=True)] == [True]


def test_edits_in_music_and_on_muted_tracks_are_none() -> None:
    assert edits(track(1, "Music", JUMP, sound=True), track(2, "Interview", JUMP, muted=True)) == ()


def test_edits_of_all_tracks_come_in_order_of_time() -> None:
    found = edits(
        track(1, "Interview", row((None, 50), ("ines", 100, 0), ("ines", 100, 150))),
        track(2, "Narration", row(("vo", 100, 0), ("vo", 100, 150)), sound=True),
    )
    assert [(edit.at, edit.element) for edit in found] == [(100, Element.NARRATION), (150, Element.INTERVIEW)]


def test_stretches_are_where_an_element_sounds() -> None:
    film = timeline(
        track(1, "Narration", row((None, 20), ("vo", 30), (None, 5), ("vo", 10, 30)), sound=True),
        track(2, "Interview", row(("ines", 20))),
    )
    elements = find_elements(film, WORDS)
    assert stretches(film, elements, Element.NARRATION) == (Span(20, 50), Span(55, 65))
