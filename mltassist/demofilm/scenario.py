"""The demonstration film: what was shot, and the editor's cut before any rough cover."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from mltassist.demofilm.film import Film, Lane, Mark, Placement, Rush
from mltassist.demofilm.script import INES, NARRATOR, TOBIAS, Talk
from mltassist.demofilm.strip import HEIGHT, WIDTH
from mltassist.frames import Rate, Span

TITLE = "The Mill That Waits for Water"
RATE = Rate(25)
CUTAWAY_LENGTH = 9 * 25
NATURAL_LENGTH = 12 * 25
MUSIC_BEYOND = 20 * 25

INTERVIEW_FILES = {talk.speaker: f"media/interview/{talk.speaker}.mp4" for talk in (INES, TOBIAS)}
NARRATION_FILE = "media/narration/narrator.m4a"
MUSIC_FILE = "media/music/creek.m4a"


@dataclass(frozen=True, slots=True)
class Subject:
    """Something filmed for cutaways: words that describe it and the sizes it was shot in."""

    name: str
    tags: tuple[str, ...]
    sizes: tuple[str, ...] = ("WS", "MS", "CU")


SUBJECTS = (
    Subject("wheel", ("wheel", "water", "paddles")),
    Subject("sluice gate", ("sluice", "gate", "winch", "water")),
    Subject("millstones", ("millstones", "stones", "grinding")),
    Subject("flour", ("flour", "meal"), ("MS", "CU", "ECU")),
    Subject("sacks", ("sacks", "grain", "knot")),
    Subject("gulls", ("gulls", "birds"), ("WS", "MS")),
    Subject("mud banks", ("mud", "banks", "creek", "low water")),
    Subject("rising tide", ("tide", "rising", "water", "pond")),
    Subject("ledger", ("ledger", "book", "page"), ("MS", "CU", "ECU")),
    Subject("tools", ("tools", "hammer", "wall")),
    Subject("hands", ("hands", "fingers", "flour", "of: Ines"), ("MS", "CU", "ECU")),
)

NATURAL = {
    "wheel splash": ("wheel", "MS", ("wheel", "splash", "water")),
    "stones rumbling": ("millstones", "MS", ("millstones", "stones", "rumble")),
    "gate winch": ("winch", "MS", ("gate", "winch", "chain")),
    "gulls": ("gulls", "MS", ("gulls", "birds")),
    "wind in reeds": ("reeds", "WS", ("reeds", "wind", "creek")),
}
"""Natural sound -> the scene and size it was filmed with, and its tags."""


def cutaway_file(subject: str, size: str) -> str:
    """Path of a cutaway from the documents' folder."""
    return f"media/cutaways/{subject.replace(' ', '-')}-{size.lower()}.mp4"


def natural_file(name: str) -> str:
    """Path of a natural-sound clip from the documents' folder."""
    return f"media/natural/{name.replace(' ', '-')}.mp4"


CLIP_NUMBERS = {
    file: number
    for number, file in enumerate(
        (
            *INTERVIEW_FILES.values(),
            *(cutaway_file(subject.name, size) for subject in SUBJECTS for size in subject.sizes),
            *(natural_file(name) for name in NATURAL),
            NARRATION_FILE,
            MUSIC_FILE,
        ),
        start=1,
    )
}
"""File -> the number its pictures carry in their code strip."""


@cache
def sentence_spans(speaker: str) -> tuple[Span, ...]:
    """Frames of the recording in which each sentence of a speaker is heard."""
    text = files("mltassist.demofilm").joinpath("voices/timing.json").read_text(encoding="utf-8")
    return tuple(
        Span(row["start_ms"] * 25 // 1000, -(-row["end_ms"] * 25 // 1000))
        for row in json.loads(text)[speaker]
    )


@cache
def recording_length(speaker: str) -> int:
    """Frames of a speaker's recording: half a second and a little more beyond the last sentence."""
    import soundfile  # noqa: PLC0415 - only here, so that the scenario's plain data loads quickly

    with files("mltassist.demofilm").joinpath(f"voices/{speaker}.ogg").open("rb") as voice:
        return int(soundfile.info(voice).frames) // (48000 // 25)


# --- what was shot ------------------------------------------------------------------------------


def rushes() -> tuple[Rush, ...]:
    """Everything in the bin."""
    return (*_talking(), *_cutaways(), *_naturals(), _music(_edit().end + MUSIC_BEYOND))


def _talking() -> tuple[Rush, ...]:
    interviews = tuple(
        Rush(
            INTERVIEW_FILES[talk.speaker],
            f"{talk.full_name} interview",
            "Interviews",
            ("interview", talk.speaker),
            recording_length(talk.speaker),
            picture=True,
            sound=True,
            note=f"{talk.full_name}, one set-up",
        )
        for talk in (INES, TOBIAS)
    )
    length = recording_length(NARRATOR.speaker)
    voice = Rush(NARRATION_FILE, "narration", "Narration", ("narration",), length, picture=False, sound=True)
    return (*interviews, voice)


def _cutaways() -> tuple[Rush, ...]:
    return tuple(
        Rush(
            cutaway_file(subject.name, size),
            f"{subject.name} {size}",
            f"Cutaways/{subject.name.capitalize()}",
            subject.tags,
            CUTAWAY_LENGTH,
            picture=True,
            sound=True,
        )
        for subject in SUBJECTS
        for size in subject.sizes
    )


def _naturals() -> tuple[Rush, ...]:
    return tuple(
        Rush(natural_file(name), name, "Natural sound", tags, NATURAL_LENGTH, picture=True, sound=True)
        for name, (_, _, tags) in NATURAL.items()
    )


def _music(length: int) -> Rush:
    return Rush(MUSIC_FILE, "creek music", "Music", ("music",), length, picture=False, sound=True)


# --- the cut ------------------------------------------------------------------------------------

# Sentences of each bite, first and past last. Neighbours whose source jumps are jump cuts; the pair
# (7, 8), (8, 9) runs on and is a through edit.
_WAITING = ((0, 2), (3, 4), (5, 6), (7, 8), (8, 9), (10, 11))
_LETTING_IN = ((0, 2), (3, 4), (5, 6), (4, 5), (7, 8))
_COUNTING = ((12, 13), (11, 12), (14, 15), (13, 14), (15, 16))
_READY = ((8, 9), (12, 13), (10, 11), (13, 14))

_OPENING_BLACK = 20
_BREATH = 14  # frames of quiet between narration and the bites on either side
_TAIL = 60  # frames of music after the last word


@dataclass(frozen=True, slots=True)
class _Edit:
    """The timeline as it is laid, with the places that markers are set at."""

    interview: tuple[Placement, ...]
    narration: tuple[Placement, ...]
    tobias_enters: int
    ines_returns: int
    closing: int
    end: int


def _bites(talk: Talk, chosen: tuple[tuple[int, int], ...], at: int) -> tuple[Placement, ...]:
    """Bites laid end to end from `at`, cut 5 to 8 frames before and after the words."""
    spans = sentence_spans(talk.speaker)
    laid: list[Placement] = []
    for count, (first, past) in enumerate(chosen):
        start = spans[first].start - (5 + count % 4)
        if count and chosen[count - 1][1] == first:  # a through edit starts where the last bite ended
            start = laid[-1].source_in + laid[-1].length
        end = spans[past - 1].end + 5 + (3 * count + 1) % 4
        laid.append(Placement(INTERVIEW_FILES[talk.speaker], at, start, end - start))
        at += end - start
    return tuple(laid)


def _paragraph(number: int, at: int) -> Placement:
    """A paragraph of narration in one piece."""
    first, past = NARRATOR.paragraphs[number]
    spans = sentence_spans(NARRATOR.speaker)
    start, end = spans[first].start - 6, spans[past - 1].end + 6
    return Placement(NARRATION_FILE, at, start, end - start)


def _end(placements: tuple[Placement, ...]) -> int:
    return placements[-1].start + placements[-1].length


@cache
def _edit() -> _Edit:
    opening = _paragraph(0, _OPENING_BLACK)
    ines = _bites(INES, _WAITING, _end((opening,)) + _BREATH)
    tobias = _bites(TOBIAS, _LETTING_IN, _end(ines))
    bridge = _paragraph(1, _end(tobias) + _BREATH)
    ines_again = _bites(INES, _COUNTING, _end((bridge,)) + _BREATH)
    tobias_again = _bites(TOBIAS, _READY, _end(ines_again))
    closing = _paragraph(2, _end(tobias_again) + _BREATH)
    return _Edit(
        interview=(*ines, *tobias, *ines_again, *tobias_again),
        narration=(opening, bridge, closing),
        tobias_enters=tobias[0].start,
        ines_returns=ines_again[0].start,
        closing=closing.start,
        end=_end((closing,)) + _TAIL,
    )


def film() -> Film:
    """The editor's cut: bites and narration in order, one cutaway laid, music under most of it."""
    edit = _edit()
    hidden = edit.interview[2].start  # the jump from boots to millstones, which the editor covered
    cutaway = Placement(cutaway_file("millstones", "MS"), hidden - 30, 60, 62)
    under_opening = min(NATURAL_LENGTH, edit.interview[0].start + 10)
    reeds = Placement(natural_file("wind in reeds"), 0, 0, under_opening)
    first_music = Placement(MUSIC_FILE, 120, 0, edit.ines_returns - 120 - 12)
    second_start = edit.ines_returns + 110
    second_music = Placement(MUSIC_FILE, second_start, first_music.length + 60, edit.end - second_start)
    return Film(
        title=TITLE,
        rate=RATE,
        width=WIDTH,
        height=HEIGHT,
        rushes=rushes(),
        lanes=(
            Lane("Interview", picture=True, sound=True, placements=edit.interview),
            Lane("Cutaways", picture=True, sound=False, placements=(cutaway,)),
            Lane("Narration", picture=False, sound=True, placements=edit.narration),
            Lane("Natural sound", picture=False, sound=True, placements=(reeds,)),
            Lane("Music", picture=False, sound=True, placements=(first_music, second_music)),
        ),
        marks=(
            Mark(edit.tobias_enters, "let the wheel be heard"),
            Mark(edit.closing, "closing words: end on the empty pond"),
        ),
    )
