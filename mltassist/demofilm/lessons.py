"""The lessons: small films, each of which shows one thing, and the whole film that uses all of them."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files

from mltassist.demofilm.film import Film
from mltassist.demofilm.parts import (
    Bite,
    LaidCutaway,
    Music,
    MusicEnds,
    NarratedLines,
    Part,
    PlacedMarker,
    PlaceHeard,
    Quiet,
    SpareRushes,
    laid,
    shots_of,
)
from mltassist.demofilm.scenario import NATURAL

BREATH = 14
"""Frames before a sentence that let the whole breath be heard."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """What a lesson hands out. `edits` holds the parts of each of its films by the name of its documents."""

    name: str
    title: str
    edits: tuple[tuple[str, tuple[Part, ...]], ...]
    supply: SpareRushes

    def films(self) -> dict[str, Film]:
        """Its films by the name of their documents."""
        return {name: laid(f"{self.title} ({name})", parts, self.supply) for name, parts in self.edits}

    def papers(self) -> dict[str, str]:
        """Its page, recipe and log sheet: text by file name."""
        folder = files("mltassist.demofilm").joinpath("papers", self.name)
        return {paper.name: paper.read_text(encoding="utf-8") for paper in folder.iterdir()}


# The first cut takes the end of a word away; the second lies in quiet on both sides.
_SHORTER = (
    Bite("ines-1", 0, 1, before=22, after=-4),
    Bite("ines-1", 2, 3, before=BREATH),
    Bite("ines-1", 5, 9, before=BREATH),
)

_NARRATION = (
    NarratedLines(0, 3),
    Quiet(12),
    Bite("ines-1", 0, 1),
    Quiet(12),
    NarratedLines(3, 6),
    Quiet(12),
    NarratedLines(9, 11),
)

_BREATHING = (
    PlaceHeard("gulls", 110, source_in=100, trail=20),
    Music(after=-40),
    Bite("tobias-1", 0, 2),
    PlaceHeard("wheel splash", 75, source_in=150, lead=15, trail=15),
    Bite("tobias-1", 3, 4, before=BREATH),
    PlacedMarker("let the gate winch be heard"),
    Bite("tobias-1", 4, 5),
    Bite("tobias-1", 6, 8, before=BREATH),
    MusicEnds(after=50),
    LaidCutaway("mud banks", "WS", early=0, length=50),
)

_MUSIC = (
    Music(),
    LaidCutaway("gulls", "WS", early=0, length=50),
    Quiet(50),
    Bite("tobias-1", 0, 2),
    Bite("tobias-1", 3, 4, before=BREATH),
    MusicEnds(),
    Music(voice=True),
    Bite("tobias-1", 6, 8, before=BREATH),
    MusicEnds(after=50),
    LaidCutaway("sluice gate", "WS", early=0, length=50),
)

_NOT_ENOUGH = (
    Bite("tobias-2", 0, 1),
    Bite("tobias-2", 2, 4),
    Bite("tobias-2", 1, 2),
    Bite("tobias-2", 5, 6, before=BREATH),
    Bite("tobias-2", 4, 5),
    Bite("tobias-2", 7, 8, before=BREATH),
)

_LOOKING = (
    PlaceHeard("wind in reeds", 200, source_in=60),
    PlaceHeard("gulls", 210, source_in=60, lead=20),
    PlaceHeard("gate winch", 240, source_in=40, lead=12),
    PlaceHeard("wheel splash", 240, source_in=40, lead=20),
    PlaceHeard("stones rumbling", 220, source_in=30, lead=10),
)

_COVERED = LaidCutaway("ledger", "CU", early=25, length=60)
_FAIR = (Bite("ines-2", 0, 2), _COVERED, Bite("ines-2", 3, 6, before=BREATH))
_UNFAIR = (Bite("ines-2", 0, 2), _COVERED, Bite("ines-2", 4, 5))

_MILL = (
    PlaceHeard("wind in reeds", 140, source_in=10, trail=25),
    Music(after=-50),
    NarratedLines(0, 2),
    Quiet(12),
    Bite("ines-1", 0, 1, before=22),
    Bite("ines-1", 2, 4, before=BREATH),
    Bite("ines-1", 5, 7, before=BREATH),
    Bite("ines-3", 8, 9),
    PlacedMarker("let the wheel be heard"),
    Bite("ines-3", 3, 4, before=BREATH),
    Bite("ines-1", 7, 8),
    Quiet(12),
    NarratedLines(3, 5),
    Quiet(12),
    Bite("tobias-1", 0, 2),
    Bite("tobias-1", 3, 5, before=BREATH),
    Bite("tobias-1", 6, 7, before=BREATH),
    Bite("tobias-1", 7, 8),
    LaidCutaway("mud banks", "WS", early=0, length=80),
    Quiet(80),
    LaidCutaway("sluice gate", "MS", early=0, length=80),
    Quiet(80),
    LaidCutaway("rising tide", "WS", early=0, length=100),
    Quiet(100),
    MusicEnds(after=-60),
    PlaceHeard("gate winch", 210, source_in=50, lead=15, trail=15),
    NarratedLines(2, 3),
    Quiet(12),
    Bite("ines-3", 0, 3),
    LaidCutaway("millstones", "MS", early=25, length=75),
    Bite("ines-3", 4, 6),
    Bite("ines-3", 7, 8, before=BREATH),
    Bite("ines-1", 8, 9, before=BREATH),
    PlaceHeard("stones rumbling", 210, source_in=40, lead=15, trail=15),
    NarratedLines(5, 6),
    Quiet(12),
    Music(source_in=250),
    Bite("tobias-2", 0, 5),
    Bite("tobias-2", 5, 6, before=BREATH),
    Bite("tobias-3", 3, 5, before=BREATH),
    Bite("tobias-3", 0, 2),
    Bite("tobias-2", 7, 8, before=BREATH),
    PlacedMarker("let the gulls be heard"),
    Bite("ines-2", 0, 2),
    Bite("ines-2", 3, 6, before=BREATH),
    Bite("ines-2", 6, 9, before=BREATH),
    LaidCutaway("ledger", "CU", early=0, length=90),
    Quiet(90),
    LaidCutaway("hands", "CU", early=0, length=90),
    Quiet(90),
    LaidCutaway("flour", "MS", early=0, length=80),
    Quiet(80),
    LaidCutaway("sacks", "WS", early=0, length=80),
    Quiet(80),
    Bite("tobias-3", 5, 7, before=BREATH),
    Quiet(12),
    NarratedLines(6, 9),
    PlaceHeard("wind in reeds", 120, source_in=175, lead=15),
    MusicEnds(),
)

_ALL = SpareRushes(shots_of(), tuple(NATURAL))


def _lesson(name: str, title: str, parts: tuple[Part, ...], supply: SpareRushes) -> Lesson:
    return Lesson(name, title, ((name, parts),), supply)


LESSONS = {
    lesson.name: lesson
    for lesson in (
        _lesson(
            "shorter-bite",
            "A bite made shorter by two cuts",
            _SHORTER,
            SpareRushes(shots_of("wheel", "millstones", "rising tide")),
        ),
        _lesson(
            "narration",
            "Pictures for a narration",
            _NARRATION,
            SpareRushes(
                shots_of("wheel", "sluice gate", "mud banks", "rising tide", "flour", "hands", "gulls")
            ),
        ),
        _lesson(
            "breathing",
            "A place breathes",
            _BREATHING,
            SpareRushes(shots_of("sluice gate", "gulls", "mud banks"), ("gate winch", "wind in reeds")),
        ),
        _lesson("music", "Music that drowns words", _MUSIC, SpareRushes(shots_of("sluice gate", "gulls"))),
        _lesson(
            "not-enough",
            "Not enough was filmed",
            _NOT_ENOUGH,
            SpareRushes((("tools", "MS"), ("mud banks", "WS"))),
        ),
        _lesson("just-looking", "Just looking", _LOOKING, SpareRushes(shots_of("wheel", "gulls"))),
        Lesson(
            "honest-cut",
            "The honest cut",
            (("honest-cut-a", _FAIR), ("honest-cut-b", _UNFAIR)),
            SpareRushes(shots_of("ledger")),
        ),
        _lesson("mill", "The Mill That Waits for Water, whole", _MILL, _ALL),
    )
}
"""By name."""
