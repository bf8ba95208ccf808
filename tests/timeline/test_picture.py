"""What the viewer sees at every frame."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mltassist.timeline.model import Dissolve, SourceKind, Timeline, Track
from mltassist.timeline.picture import showing
from tests.timeline.films import clip, row, timeline, track

LOW = track(1, "V1", row(("low", 100)))


def seen(film: Timeline, *, ours: bool = False) -> list[tuple[int, int, str | None]]:
    return [(s.span.start, s.span.end, s.clip.name if s.clip else None) for s in showing(film, ours=ours)]


def test_the_uppermost_picture_is_seen() -> None:
    film = timeline(LOW, track(2, "V2", row((None, 30), ("high", 40))))
    assert seen(film) == [(0, 30, "low"), (30, 70, "high"), (70, 100, "low")]
    assert [s.track.index if s.track else None for s in showing(film)] == [1, 2, 1]


def test_gaps_show_what_lies_below_and_at_last_nothing() -> None:
    film = timeline(
        track(1, "V1", row((None, 10), ("low", 20))), track(2, "V2", row((None, 50), ("high", 5)))
    )
    assert seen(film) == [(0, 10, None), (10, 30, "low"), (30, 50, None), (50, 55, "high")]


def test_sound_alone_lengthens_the_film_and_shows_nothing() -> None:
    film = timeline(LOW, track(2, "A1", row(("music", 150)), sound=True))
    assert seen(film) == [(0, 100, "low"), (100, 150, None)]


@pytest.mark.parametrize(
    "above",
    [
        track(2, "V2", row(("high", 100)), hidden=True),
        track(2, "V2", row(("high", 100)), sound=True),
        track(2, "V2", [clip("title", 0, 100, kind=SourceKind.TITLE)]),
        track(2, "V2", [replace(clip("high", 0, 100), plays_picture=False)]),
        track(2, "V2", row(("high", 100)), ours="cover"),
    ],
    ids=["hidden track", "sound track", "title", "clip without picture", "cover of an earlier run"],
)
def test_what_hides_nothing(above: Track) -> None:
    assert seen(timeline(LOW, above)) == [(0, 100, "low")]


def test_our_own_tracks_are_seen_when_asked_for() -> None:
    film = timeline(LOW, track(2, "V2", row(("high", 100)), ours="cover"))
    assert seen(film, ours=True) == [(0, 100, "high")]


@pytest.mark.parametrize("kind", [SourceKind.IMAGE, SourceKind.COLOUR, SourceKind.SEQUENCE])
def test_stills_colours_and_sequences_hide_what_lies_below(kind: SourceKind) -> None:
    assert seen(timeline(LOW, track(2, "V2", [clip("high", 0, 100, kind=kind)]))) == [(0, 100, "high")]


def test_a_dissolve_shows_the_incoming_clip() -> None:
    dissolve = Dissolve(40, 10, clip("one", 40, 10, 40), clip("two", 40, 10))
    film = timeline(track(1, "V1", [clip("one", 0, 40), dissolve, clip("two", 50, 20, 10)]))
    assert seen(film) == [(0, 40, "one"), (40, 50, "two"), (50, 70, "two")]


def test_an_empty_timeline_shows_nothing() -> None:
    assert showing(timeline()) == ()
