"""What every media file of the films is made from: which recording, which drawn scene, which sounds."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePosixPath

from mltassist.demofilm import scenario
from mltassist.demofilm.cards import BALLAD, INES_1, INES_2, INES_3, NARRATION, TOBIAS_1, TOBIAS_2, TOBIAS_3
from mltassist.demofilm.script import INES, NARRATOR, TOBIAS, Talk

BORROWED = "../saltreed/"
"""Where lessons find what the first film already has, seen from their own folder."""

FIRST_NUMBER = 101  # of clips made for the lessons; the first film's are numbered below


@dataclass(frozen=True, slots=True)
class MadeFile:
    """How a file is made.

    number: what its pictures carry in their code strip, 0 without picture. talk: whose words are heard.
    sitter: who is seen speaking. subject, size: the scene that is seen. natural: the sound of a place, else
    a quiet one goes with a scene. music: whether the figure over a drone is played. sound_bits: of its
    sound, a second.
    """

    number: int = 0
    talk: Talk | None = None
    sitter: str = ""
    subject: str = ""
    size: str = ""
    natural: str = ""
    music: bool = False
    sound_bits: int = 48_000


def made_file(file: str) -> MadeFile:
    """The source of a rush by its path. Raises KeyError for a file that no film has."""
    return _SOURCES[file.removeprefix(BORROWED)]


def transcribed(file: str) -> str:
    """Path of the transcript beside a recording."""
    return str(PurePosixPath(file).with_suffix(".srt"))


CARD_FILES = {
    card.speaker: f"../media/interview/{card.speaker}.mp4"
    for card in (INES_1, INES_2, INES_3, TOBIAS_1, TOBIAS_2, TOBIAS_3)
} | {NARRATION.speaker: "../media/narration/narration.m4a"}
"""Recording -> its file, from the folder of a lesson."""

BALLAD_FILE = "../media/music/ballad.m4a"
CREEK_FILE = BORROWED + scenario.MUSIC_FILE


def _first_film() -> dict[str, MadeFile]:
    number = scenario.CLIP_NUMBERS
    found = {
        file: MadeFile(number[file], talk, sitter=talk.speaker, sound_bits=96_000)
        for talk in (INES, TOBIAS)
        for file in (scenario.INTERVIEW_FILES[talk.speaker],)
    }
    for subject in scenario.SUBJECTS:
        for size in subject.sizes:
            file = scenario.cutaway_file(subject.name, size)
            found[file] = MadeFile(number[file], subject=subject.name, size=size, sound_bits=16_000)
    for name, (scene, size, _) in scenario.NATURAL.items():
        file = scenario.natural_file(name)
        found[file] = MadeFile(number[file], subject=scene, size=size, natural=name)
    found[scenario.NARRATION_FILE] = MadeFile(talk=NARRATOR)
    found[scenario.MUSIC_FILE] = MadeFile(music=True, sound_bits=64_000)
    return found


def _lessons() -> dict[str, MadeFile]:
    found = {CARD_FILES[NARRATION.speaker]: MadeFile(talk=NARRATION)}
    for number, card in enumerate((INES_1, INES_2, INES_3, TOBIAS_1, TOBIAS_2, TOBIAS_3), FIRST_NUMBER):
        sitter = card.speaker.partition("-")[0]
        found[CARD_FILES[card.speaker]] = MadeFile(number, card, sitter, sound_bits=64_000)
    found[BALLAD_FILE] = MadeFile(talk=BALLAD, music=True, sound_bits=64_000)
    return found


_SOURCES = _first_film() | _lessons()
