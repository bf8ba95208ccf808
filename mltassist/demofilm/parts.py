"""A film written down as a list of parts, one after the other, and the timeline that comes of it.

Parts that take time: `Bite`, `NarratedLines`, `Quiet`, `PlaceHeard`. Parts that hang where they stand:
`LaidCutaway`, `PlacedMarker`, `Music`, `MusicEnds`. All lengths are frames.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from mltassist.demofilm import scenario
from mltassist.demofilm.cards import CARDS
from mltassist.demofilm.film import Film, Lane, Mark, Placement, Rush
from mltassist.demofilm.scenario import RATE, SUBJECTS
from mltassist.demofilm.sources import BALLAD_FILE, BORROWED, CARD_FILES, CREEK_FILE
from mltassist.demofilm.strip import HEIGHT, WIDTH

CUT = 6
"""Frames that a bite begins before its first word and ends after its last, unless it says otherwise."""
BALLAD_LENGTH = 60 * 25


@dataclass(frozen=True, slots=True)
class Bite:
    """Sentences `first` up to `past` of a card, cut `before` frames ahead of them and `after` behind."""

    card: str
    first: int
    past: int
    before: int = CUT
    after: int = CUT


@dataclass(frozen=True, slots=True)
class NarratedLines:
    """Sentences of the narration, with nothing to see."""

    first: int
    past: int


@dataclass(frozen=True, slots=True)
class Quiet:
    """Nothing seen, nobody heard."""

    length: int


@dataclass(frozen=True, slots=True)
class PlaceHeard:
    """A place seen and heard; its sound begins `lead` frames earlier and ends `trail` later."""

    name: str
    length: int
    source_in: int = 25
    lead: int = 0
    trail: int = 0


@dataclass(frozen=True, slots=True)
class LaidCutaway:
    """A cutaway that the editor has laid, begun `early` frames before this point."""

    subject: str
    size: str
    early: int
    length: int
    source_in: int = 50


@dataclass(frozen=True, slots=True)
class PlacedMarker:
    """A marker."""

    text: str


@dataclass(frozen=True, slots=True)
class Music:
    """Music begins `after` frames from here; `voice` takes the piece with a voice in it."""

    after: int = 0
    source_in: int = 0
    voice: bool = False


@dataclass(frozen=True, slots=True)
class MusicEnds:
    """Music ends `after` frames from here."""

    after: int = 0


Part = Bite | NarratedLines | Quiet | PlaceHeard | LaidCutaway | PlacedMarker | Music | MusicEnds


@dataclass(frozen=True, slots=True)
class SpareRushes:
    """What lies in the bin besides what is cut: cutaways by subject, all or some sizes, and natural sound."""

    cutaways: tuple[tuple[str, str], ...] = ()
    natural: tuple[str, ...] = ()


def shots_of(*subjects: str) -> tuple[tuple[str, str], ...]:
    """Every size in which these subjects were filmed; all subjects where none is named."""
    return tuple(
        (subject.name, size)
        for subject in SUBJECTS
        if not subjects or subject.name in subjects
        for size in subject.sizes
    )


@dataclass
class _Laying:
    """The timeline while it is laid: lanes by name, markers, and the frame that has been reached."""

    at: int = 0
    lanes: dict[str, list[Placement]] = field(default_factory=dict)
    marks: list[Mark] = field(default_factory=list)
    music: tuple[str, int, int] | None = None

    def lay(self, lane: str, file: str, start: int, source_in: int, length: int) -> None:
        self.lanes.setdefault(lane, []).append(Placement(file, start, source_in, length))

    def talk(self, lane: str, bite: Bite) -> None:
        spans = scenario.sentence_spans(bite.card)
        start, end = spans[bite.first].start - bite.before, spans[bite.past - 1].end + bite.after
        self.lay(lane, CARD_FILES[bite.card], self.at, start, end - start)
        self.at += end - start

    def take(self, part: Part) -> None:
        match part:
            case Bite():
                self.talk("Interview", part)
            case NarratedLines():
                self.talk("Narration", Bite("narration", part.first, part.past))
            case Quiet():
                self.at += part.length
            case PlaceHeard():
                self.place(part)
            case LaidCutaway():
                file = BORROWED + scenario.cutaway_file(part.subject, part.size)
                self.lay("Cutaways", file, self.at - part.early, part.source_in, part.length)
            case PlacedMarker():
                self.marks.append(Mark(self.at, part.text))
            case Music():
                file = BALLAD_FILE if part.voice else CREEK_FILE
                self.music = (file, self.at + part.after, part.source_in)
            case MusicEnds():
                file, start, source_in = self.music or ("", 0, 0)
                self.lay("Music", file, start, source_in, self.at + part.after - start)

    def place(self, part: PlaceHeard) -> None:
        file = BORROWED + scenario.natural_file(part.name)
        self.lay("Places", file, self.at, part.source_in, part.length)
        start, length = self.at - part.lead, part.lead + part.length + part.trail
        before = self.lanes.get("Natural sound", ())
        free = not before or before[-1].start + before[-1].length <= start
        # Where one sound begins under the last of another, it takes the second lane.
        self.lay(
            "Natural sound" if free else "Natural sound 2", file, start, part.source_in - part.lead, length
        )
        self.at += part.length


LANES = (
    ("Interview", True, True),
    ("Places", True, False),
    ("Cutaways", True, False),
    ("Narration", False, True),
    ("Natural sound", False, True),
    ("Natural sound 2", False, True),
    ("Music", False, True),
)
"""Name of each lane from the bottom up, and whether it has picture and sound. Empty ones are left out."""


def laid(title: str, parts: tuple[Part, ...], supply: SpareRushes) -> Film:
    """The film of these parts, with a bin of all that is cut and the supply."""
    laying = _Laying()
    for part in parts:
        laying.take(part)
    lanes = tuple(
        Lane(name, picture, sound, tuple(laying.lanes[name]))
        for name, picture, sound in LANES
        if name in laying.lanes
    )
    used = {spot.file for lane in lanes for spot in lane.placements}
    bin_ = tuple(rush for rush in _all_rushes() if rush.file in used or _in_supply(rush, supply))
    return Film(title, RATE, WIDTH, HEIGHT, bin_, lanes, tuple(laying.marks))


def _in_supply(rush: Rush, supply: SpareRushes) -> bool:
    subject, _, size = rush.name.rpartition(" ")
    return (subject, size) in supply.cutaways or rush.name in supply.natural


def _all_rushes() -> tuple[Rush, ...]:
    """Everything that lessons draw on, as it lies in their bins: the cards, and what the first film has."""
    talking = tuple(
        Rush(
            CARD_FILES[card.speaker],
            f"{card.full_name} {card.speaker.partition('-')[2]}",
            "Interviews",
            ("interview", card.speaker.partition("-")[0]),
            scenario.recording_length(card.speaker),
            picture=True,
            sound=True,
            note=f"{card.full_name}, one set-up",
        )
        for card in CARDS
        if "-" in card.speaker
    )
    length = scenario.recording_length("narration")
    voice = Rush(CARD_FILES["narration"], "narration", "Narration", ("narration",), length, False, True)
    ballad = Rush(BALLAD_FILE, "creek ballad", "Music", ("music",), BALLAD_LENGTH, False, True)
    borrowed = tuple(
        replace(rush, file=BORROWED + rush.file)
        for rush in scenario.rushes()
        if rush.folder not in {"Interviews", "Narration"}
    )
    return (*talking, voice, *borrowed, ballad)
