"""Faults of picture that a film has before anything is done to it."""

from __future__ import annotations

from dataclasses import replace

from mltassist.recipe.rules import Recipe
from mltassist.timeline.elements import find_elements
from mltassist.timeline.model import Clip, Track
from mltassist.timeline.picturefaults import picture_faults
from tests.timeline.films import row, timeline, track

VOICES = track(9, "Interview sound", row(("ines", 600, 0), ("tobias", 200, 0)), sound=True)
FACES = track(1, "Interview", row(("ines", 600, 0), ("tobias", 200, 0)))


def told(*tracks: Track, unseen: int = 500) -> list[tuple[int, str]]:
    film = timeline(*tracks)
    found = picture_faults(film, find_elements(film, Recipe().vocabulary()), unseen)
    return [(fault.at, fault.what) for fault in found]


def test_a_film_in_order_has_none() -> None:
    assert told(FACES, VOICES) == []
    through = track(1, "Interview", row(("ines", 595, 0), ("ines", 5, 595), ("tobias", 200, 0)))
    assert told(through, VOICES) == []


def test_black_and_flashes_are_told() -> None:
    broken = track(1, "Interview", row(("ines", 595, 0), ("other", 5, 0), (None, 3), ("tobias", 197, 3)))
    assert told(broken, VOICES) == [
        (595, "a picture flashes: 'other' for 5 frames"),
        (600, "nothing is seen here: the picture is black"),
    ]


def test_a_shot_used_twice_and_voices_without_a_face_are_told() -> None:
    over = track(2, "Cutaways", row(("wheel", 100, 0), (None, 100), ("wheel", 100, 99), ("mud", 500, 0)))
    faults = told(FACES, over, VOICES, unseen=400)
    assert (200, "frames of 'wheel' are shown a second time") in faults
    assert (600, "'tobias' is heard and never seen") in faults
    assert (200, "nobody is seen for 24 s of an interview") in faults
    assert len(faults) == 3
    assert told(FACES, over, VOICES, unseen=600)[-1] == (600, "'tobias' is heard and never seen")


def test_a_voice_from_a_recorder_is_seen_where_a_face_is_seen_with_it() -> None:
    def recorded(clip: Clip) -> Clip:
        return replace(clip, source=replace(clip.source, has_picture=False))

    def film(*faces: Track) -> list[tuple[int, str]]:
        items = row(("recorder one", 300, 0), ("recorder two", 200, 0))
        voices = track(9, "Interview sound", tuple(recorded(clip) for clip in items), sound=True)
        return told(*faces, voices, unseen=900)

    beside = track(1, "Interview", row(("ines", 300, 0), (None, 200)))
    over = track(2, "Cutaways", row((None, 300), ("wheel", 200, 0)))
    assert film(track(1, "Interview", row(("ines", 300, 0), ("tobias", 200, 0)))) == []
    assert film(beside, over) == [(300, "'recorder two' is heard and never seen")]
