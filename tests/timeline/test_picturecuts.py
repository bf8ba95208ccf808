"""Where the picture of an interview jumps before the eye, and which cut in sound belongs to it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from mltassist.recipe.rules import Recipe
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.elements import find_elements
from mltassist.timeline.model import Dissolve, SourceKind, Track
from mltassist.timeline.picturecuts import picture_cuts, sound_cuts
from tests.timeline.films import clip, row, timeline, track

WORDS = Recipe().vocabulary()


def seen(*tracks: Track) -> list[tuple[int, CutKind, int]]:
    film = timeline(*tracks)
    return [(cut.at, cut.kind, cut.removed) for cut in picture_cuts(film, find_elements(film, WORDS))]


def split(*tracks: Track, longest: int = 150) -> dict[int, int]:
    film = timeline(*tracks)
    elements = find_elements(film, WORDS)
    return sound_cuts(picture_cuts(film, elements), speech_edits(film, elements), film, longest)


JUMP = row(("ines", 100, 0), ("ines", 100, 150))
FACE = track(1, "Interview", JUMP)


@pytest.mark.parametrize(
    ("tracks", "expected"),
    [
        ((FACE,), [(100, CutKind.JUMP, 50)]),
        ((replace(FACE, muted=True),), [(100, CutKind.JUMP, 50)]),
        ((replace(FACE, hidden=True),), []),
        ((track(1, "Interview", JUMP, sound=True),), []),
        ((track(1, "Cutaways", JUMP),), []),
        ((track(1, "Interview", row(("ines", 100, 0), ("ines", 100, 100))),), []),
        ((track(1, "Interview", row(("ines", 100, 0), (None, 5), ("ines", 100, 150))),), []),
        ((track(1, "Interview", row(("ines", 100, 0), ("tobias", 100, 0))),), [(100, CutKind.CHANGE, 0)]),
        ((FACE, track(2, "Cutaways", row((None, 90), ("wheel", 30)))), []),
        (
            (FACE, track(2, "Cutaways", row((None, 90), ("wheel", 30)), ours="cover")),
            [(100, CutKind.JUMP, 50)],
        ),
        # From one track to another, where a listener of the same recording lies above.
        (
            (FACE, track(2, "Interview B", row((None, 80), ("ines", 40, 400)), muted=True)),
            [(80, CutKind.JUMP, 320), (120, CutKind.JUMP, -270)],
        ),
    ],
    ids=["open", "muted", "hidden", "sound", "shot", "through", "gap", "other", "covered", "ours", "two"],
)
def test_the_picture_that_is_seen_tells_where_it_jumps(
    tracks: tuple[Track, ...], expected: list[tuple[int, CutKind, int]]
) -> None:
    assert seen(*tracks) == expected


def test_a_dissolve_is_no_jump() -> None:
    dissolve = Dissolve(90, 10, clip("ines", 90, 10, 90), clip("ines", 90, 10, 300))
    assert seen(track(1, "Interview", [clip("ines", 0, 90), dissolve, clip("ines", 100, 50, 310)])) == []


def test_a_recording_at_another_speed_jumps_unless_it_runs_on() -> None:
    first = clip("ines", 0, 100, 0)
    fast = replace(clip("ines", 100, 80, 400), speed=Fraction(5, 4))
    warped = replace(fast, source=replace(fast.source, key="timewarp:1.25:/rushes/ines"))
    for second in (fast, warped):
        assert seen(track(1, "Interview", [first, second])) == [(100, CutKind.JUMP, 300)]
    running_on = replace(fast, source_in=0, remap=((0, Fraction(201, 2)), (80, Fraction(401, 2))))
    last = clip("ines", 180, 50, 201)
    assert seen(track(1, "Interview", [first, running_on, last])) == []
    assert seen(track(1, "Interview", [first, running_on, replace(last, source_in=205)])) == [
        (180, CutKind.JUMP, 5)
    ]


def test_stills_do_not_jump() -> None:
    stills = [clip("portrait", at, 50, kind=SourceKind.IMAGE) for at in (0, 50)]
    assert seen(track(1, "Interview", stills)) == []


@pytest.mark.parametrize(
    ("sound", "longest", "expected"),
    [
        (row(("ines", 140, 0), ("ines", 60, 190)), 150, {100: 140}),  # the picture first
        (row(("ines", 60, 0), ("ines", 140, 110)), 150, {100: 60}),  # the sound first
        (row(("ines", 140, 0), ("ines", 60, 190)), 39, {}),  # too far
        (row(("ines", 140, 0), ("ines", 60, 191)), 150, {100: 140}),  # trimmed by a frame since
        (row(("ines", 140, 0), ("ines", 60, 230)), 150, {}),  # other frames left out
        (row(("recorder", 140, 70), ("recorder", 60, 261)), 150, {}),  # the same, recorded apart
        (row(("ines", 106, 0), ("ines", 94, 159)), 150, {100: 106}),  # near: by some frames others
        (row(("recorder", 140, 70), ("recorder", 60, 260)), 150, {100: 140}),  # recorded apart
        (row(("recorder", 106, 0), ("recorder", 94, 259)), 150, {}),  # another speaker's, near by chance
        (JUMP, 150, {}),  # cut together
    ],
    ids=["L", "J", "far", "trim", "other", "two", "near", "apart", "chance", "together"],
)
def test_the_cut_in_sound_of_a_split_edit_is_found(sound, longest: int, expected: dict[int, int]) -> None:
    picture = replace(FACE, muted=True)
    assert split(picture, track(2, "Interview sound", sound, sound=True), longest=longest) == expected


def test_a_split_edit_between_two_recordings_is_found() -> None:
    picture = track(1, "Interview", row(("take 1", 100, 0), ("take 2", 100, 0)), muted=True)
    sound = row(("take 1", 140, 0), ("take 2", 60, 40))
    assert split(picture, track(2, "Interview sound", sound, sound=True)) == {100: 140}
