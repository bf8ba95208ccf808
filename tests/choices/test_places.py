"""Decisions are named by what is played, and found again wherever that lies by then."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.choices.naming import Anchor, Name, read_name
from mltassist.choices.places import Places
from mltassist.frames import Span
from mltassist.recipe.rules import Recipe
from mltassist.timeline.cuts import speech_edits
from mltassist.timeline.elements import find_elements
from mltassist.timeline.model import Clip, Timeline, Track
from tests.timeline.films import clip, in_bin, row, timeline, track

WORDS = Recipe().vocabulary()
MUSIC = track(1, "Music", row(("tune.wav", 900)), sound=True)
TALK = (("ines.mp4", 100, 0), ("ines.mp4", 100, 150), ("tobias.mp4", 100, 300))


def places_of(film: Timeline) -> Places:
    return Places(film, find_elements(film, WORDS))


def places(*parts: tuple[str | None, int] | tuple[str, int, int], above: tuple[Track, ...] = ()) -> Places:
    return places_of(timeline(MUSIC, track(2, "Interview", row(*parts)), *above))


def named(text: str) -> Name:
    name = read_name(text)
    assert name is not None
    return name


def test_a_shot_is_named_by_what_is_said_at_both_its_ends() -> None:
    assert places(*TALK).shot(Span(80, 130)) == "shot 80 ines.mp4 > 179 ines.mp4"


def test_a_shot_is_found_where_its_words_lie_by_then() -> None:
    name = named(places(*TALK).shot(Span(80, 130)))
    assert places((None, 40), *TALK).span(name) == Span(120, 170)
    assert places(("ines.mp4", 60, 40), *TALK[1:]).span(name) == Span(40, 90)
    longer = places(("ines.mp4", 110, 0), *TALK[1:]).span(name)
    assert longer == Span(80, 140)


def test_what_was_cut_away_is_not_found_but_for_a_few_frames() -> None:
    name = named("shot 80 ines.mp4 > 179 ines.mp4")
    assert places(("ines.mp4", 75, 0), *TALK[1:]).span(name) == Span(74, 105)
    assert places(("ines.mp4", 40, 0), *TALK[1:]).span(name) is None
    assert places(TALK[1], TALK[0]).span(name) is None  # turned round
    assert places(("tobias.mp4", 100, 0)).span(name) is None


@pytest.mark.parametrize("shift", [0, 33])
def test_words_used_twice_are_told_apart(shift: int) -> None:
    twice = places(("ines.mp4", 50, 0), ("tobias.mp4", 50, 0), ("ines.mp4", 50, 0))
    assert str(twice.anchor(110)) == "10#2 ines.mp4"
    start = ((None, shift),) if shift else ()
    later = places(*start, ("ines.mp4", 50, 0), ("tobias.mp4", 50, 0), ("ines.mp4", 50, 0))
    assert later.frame(Anchor("ines.mp4", 10, nth=2)) == 110 + shift
    assert places(("ines.mp4", 50, 0)).frame(Anchor("ines.mp4", 10, nth=2)) is None


def test_where_nobody_speaks_the_picture_tells_and_then_what_was_before() -> None:
    picture = track(3, "Cutaways", row((None, 100), ("gulls.mp4", 50, 7)))
    film = places(("ines.mp4", 100, 0), above=(picture,))
    assert str(film.anchor(120)) == "27 gulls.mp4"
    assert str(film.anchor(170)) == "56+21 gulls.mp4"
    assert [film.frame(film.anchor(frame)) for frame in (0, 99, 120, 170)] == [0, 99, 120, 170]
    begins_empty = places((None, 30), ("ines.mp4", 100, 5))
    assert str(begins_empty.anchor(10)) == "5-20 ines.mp4"
    assert begins_empty.frame(Anchor("ines.mp4", 5, -20)) == 10
    assert str(places_of(timeline(MUSIC)).anchor(12)) == "0+12 "


def test_a_pause_stays_behind_the_words_before_it() -> None:
    name = places(*TALK).pause(100)
    assert name == "pause 99 ines.mp4"
    assert places((None, 9), *TALK).pause_at(named(name)) == 109
    assert places(TALK[1], TALK[0], TALK[2]).pause_at(named(name)) == 200
    assert places(*TALK).pause_at(named(places(*TALK).pause(0))) == 0


def test_a_join_is_found_by_its_sides_also_a_few_frames_off() -> None:
    film = places(*TALK)
    edits = speech_edits(film.timeline, find_elements(film.timeline, WORDS))
    names = [film.join(edit) for edit in edits]
    assert names == ["join 99 ines.mp4 > 150 ines.mp4", "join 249 ines.mp4 > 300 tobias.mp4"]
    moved = places((None, 12), ("ines.mp4", 103, 0), ("ines.mp4", 101, 149), TALK[2])
    edits = speech_edits(moved.timeline, find_elements(moved.timeline, WORDS))
    assert [moved.join_of(named(name), edits) for name in names] == list(edits)
    assert moved.join_of(named("join 80 ines.mp4 > 150 ines.mp4"), edits) is None
    assert moved.join_of(named("join 103 ines.mp4 > 300 tobias.mp4"), edits) is None


def test_of_two_joins_as_near_neither_is_taken() -> None:
    film = places(("a.mp4", 50, 0), ("b.mp4", 50, 0), ("a.mp4", 46, 0), ("b.mp4", 50, 0))
    edits = speech_edits(film.timeline, find_elements(film.timeline, WORDS))
    assert film.join_of(named("join 47 a.mp4 > 0 b.mp4"), edits) is None


def test_levels_are_named_by_the_sound_and_what_is_said_over_it() -> None:
    film = places(*TALK)
    assert film.level("natural sound", 100) == "level:natural-sound 150 ines.mp4"
    assert film.match(next(film.timeline.track(2).clips())) == "match 0 ines.mp4"


def test_files_of_one_name_are_told_apart_by_their_folders() -> None:
    film = timeline(track(1, "Interview", row(("card1/C1.mp4", 50, 0), ("card2/C1.mp4", 50, 0))))
    found = places_of(film)
    assert found.pause(50) == "pause 49 card1/C1.mp4"
    assert found.key_of("C1.mp4") is None
    other = places_of(replace(film, bin=(in_bin("C2", file="card2/C2.mp4"),)))
    assert other.pause_at(named("pause 49 card1/C1.mp4")) == 50


def test_clips_at_another_speed_are_named_by_what_they_play() -> None:
    slow: Clip = replace(clip("ines.mp4", 0, 100, 40), speed=Fraction(1, 2))
    film = places_of(timeline(track(1, "Interview", [slow])))
    assert str(film.anchor(60)) == "70 ines.mp4"
    assert film.frame(Anchor("ines.mp4", 70)) == 60


def test_what_we_laid_names_nothing() -> None:
    ours = track(3, "ours", row((None, 50), ("gulls.mp4", 100)), ours="cover")
    assert places(*TALK, above=(ours,)).shot(Span(80, 90)) == "shot 80 ines.mp4 > 89 ines.mp4"


def anchors_in(film: Places, length: int) -> list[Anchor]:
    """The anchors of the first frames as they follow from the runs that these are in."""
    runs, found = list(film.runs()), []
    for frame in range(length):
        start, anchor, moves = max((run for run in runs if run[0] <= frame), key=lambda run: run[0])
        on = {"frame": anchor.frame + frame - start} if moves else {"after": anchor.after + frame - start}
        found.append(replace(anchor, **on))
    return found


PARTS = st.lists(
    st.tuples(st.sampled_from(["ines.mp4", "tobias.mp4", None]), st.integers(1, 12), st.integers(0, 15)),
    min_size=1,
    max_size=7,
)


@settings(max_examples=40, deadline=None)
@given(PARTS, PARTS)
def test_runs_tell_what_every_frame_is_called(spoken, shown) -> None:
    def parts(rows):
        return [row[:2] if row[0] is None else row for row in rows]

    film = places(*parts(spoken), above=(track(3, "Cutaways", row(*parts(shown))),))
    length = min(film.timeline.length, 90)
    assert anchors_in(film, length) == [film.anchor(f) for f in range(length)]


def test_runs_follow_a_clip_at_another_speed() -> None:
    slow: Clip = replace(clip("ines.mp4", 0, 30, 40), speed=Fraction(1, 2))
    film = places_of(timeline(track(1, "Interview", [slow])))
    assert anchors_in(film, 30) == [film.anchor(f) for f in range(30)]
