"""What the use of a recording in the timeline tells, on timelines of which it is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mltassist.rushes.use import Use, uses_of
from tests.timeline.films import clip, row, timeline, track

TALK = "/rushes/talk.mov"


def test_pieces_that_are_cut_shorter_are_counted() -> None:
    talk = row(("talk.mov", 100, 50), ("talk.mov", 50, 200), ("talk.mov", 50, 250), ("talk.mov", 50, 90))
    found = uses_of(timeline(track(1, "V1", talk)), [TALK])[TALK]
    assert found == Use(pieces=4, shortened=1, heard=1.0, over=0.0, beneath=0.0, throughout=1.0)


def test_a_picture_over_speech_lies_over_it_and_sound_under_speech_beneath_it() -> None:
    shots = [replace(one, plays_sound=False) for one in row((None, 50), ("shot.mov", 100))[1:]]
    film = timeline(
        track(1, "V1", row(("talk.mov", 100), (None, 20), ("talk.mov", 80, 300))),
        track(2, "V2", shots),
        track(3, "A1", row(("tune.wav", 200)), sound=True),
    )
    found = uses_of(film, [TALK])
    assert found["/rushes/shot.mov"].over == pytest.approx(80 / 100)
    assert found["/rushes/shot.mov"].heard == 0
    assert found["/rushes/tune.wav"].beneath == pytest.approx(180 / 200)
    assert found["/rushes/tune.wav"].throughout == 1
    assert found[TALK].over == found[TALK].beneath == 0


def test_picture_and_sound_of_one_clip_on_two_tracks_count_once() -> None:
    pieces = row(("talk.mov", 100, 0), ("talk.mov", 100, 150))
    quiet = [replace(one, plays_sound=False) for one in pieces]
    film = timeline(track(1, "A1", pieces, sound=True), track(2, "V1", quiet))
    assert uses_of(film, [TALK])[TALK] == Use(2, 1, heard=1.0, throughout=1.0)


def test_the_sound_that_was_recorded_apart_is_not_somebody_else() -> None:
    quiet = [replace(clip("talk.mov", 0, 100), plays_sound=False)]
    film = timeline(track(1, "V1", quiet), track(2, "A1", row(("apart.wav", 100)), sound=True))
    apart = "/rushes/apart.wav"
    assert uses_of(film, [TALK, apart])[TALK].over == 1
    found = uses_of(film, [TALK, apart], {TALK: apart, apart: TALK})[TALK]
    assert (found.over, found.heard) == (0, 1)


def test_what_is_muted_or_ours_is_not_heard() -> None:
    film = timeline(
        track(1, "V1", row(("talk.mov", 100)), muted=True),
        track(2, "A1", row(("tune.wav", 100)), sound=True, ours="natural"),
    )
    found = uses_of(film, [TALK])
    assert found[TALK].heard == found[TALK].throughout == 0
    assert "/rushes/tune.wav" not in found
