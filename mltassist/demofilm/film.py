"""The demonstration film as plain data, from which media and documents are written."""

from __future__ import annotations

from dataclasses import dataclass, field

from mltassist.frames import Rate


@dataclass(frozen=True, slots=True)
class Rush:
    """One media file as it lies in the bin. Lengths are frames of the film's rate."""

    file: str
    """Path from the documents' folder, with forward slashes."""
    name: str
    folder: str
    """Bin folder; empty for the top of the bin."""
    tags: tuple[str, ...]
    length: int
    picture: bool
    sound: bool
    note: str = ""


@dataclass(frozen=True, slots=True)
class Placement:
    """`length` frames of a rush, from its frame `source_in`, at frame `start` of the timeline."""

    file: str
    start: int
    source_in: int
    length: int


@dataclass(frozen=True, slots=True)
class Lane:
    """A layer of the edit. With picture and sound both, the two halves of each clip are linked."""

    name: str
    picture: bool
    sound: bool
    placements: tuple[Placement, ...] = ()


@dataclass(frozen=True, slots=True)
class Mark:
    """A marker on the timeline."""

    at: int
    text: str


@dataclass(frozen=True, slots=True)
class Film:
    """A whole edit: lanes from the bottom of the picture stack upward, sound-only lanes after them."""

    title: str
    rate: Rate
    width: int
    height: int
    rushes: tuple[Rush, ...]
    lanes: tuple[Lane, ...]
    marks: tuple[Mark, ...] = field(default=())

    @property
    def length(self) -> int:
        """Frames from the start to the end of the last clip."""
        return max((spot.start + spot.length for lane in self.lanes for spot in lane.placements), default=0)
