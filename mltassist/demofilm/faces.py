"""Two people talking to the camera: head, body and a mouth that follows the voice."""

from __future__ import annotations

from dataclasses import dataclass
from math import sin

from mltassist.demofilm.drawing import (
    Colour,
    Painting,
    bar,
    block,
    disc,
    ellipse,
    gradient,
    mixed,
    polygon,
    ring,
)
from mltassist.demofilm.palette import (
    BLUE,
    DARK_STONE,
    DARK_WOOD,
    GREEN,
    INK,
    ORANGE,
    PAPER,
    RED,
    SKIN,
    SKY,
    STONE,
    WOOD,
    YELLOW,
)


@dataclass(frozen=True, slots=True)
class Sitter:
    """How a person looks, where they sit, and the rhythm of their small movements."""

    x: float
    skin: Colour
    hair: Colour
    shirt: Colour
    apron: Colour
    bearded: bool
    phase: float


INES_SITTING = Sitter(262, SKIN, mixed(DARK_STONE, INK, 0.4), BLUE, mixed(PAPER, STONE, 0.2), False, 0.4)
TOBIAS_SITTING = Sitter(
    388, mixed(SKIN, WOOD, 0.3), PAPER, mixed(GREEN, INK, 0.25), mixed(ORANGE, INK, 0.4), True, 2.1
)


def mill_room(view: Painting) -> None:
    """Where Ines sits: a pale wall, a beam, a window, shelves."""
    gradient(view, mixed(STONE, PAPER, 0.3), mixed(STONE, INK, 0.1))
    block(view, (0, 0), (640, 30), DARK_WOOD)
    block(view, (430, 62), (140, 150), DARK_WOOD)
    block(view, (440, 72), (120, 130), mixed(SKY, PAPER, 0.55))
    bar(view, (500, 72), (500, 202), 6, DARK_WOOD)
    bar(view, (440, 137), (560, 137), 6, DARK_WOOD)
    block(view, (0, 150), (120, 12), WOOD)
    for x, colour in ((20, RED), (52, YELLOW), (84, GREEN)):
        block(view, (x, 112), (22, 38), mixed(colour, STONE, 0.3))


def gate_house(view: Painting) -> None:
    """Where Tobias sits: boards, a coil of rope, the winch behind him."""
    gradient(view, mixed(WOOD, INK, 0.3), mixed(WOOD, INK, 0.55))
    for x in range(0, 641, 54):
        bar(view, (x, 0), (x, 360), 3, DARK_WOOD)
    ring(view, (120, 130), (34, 62), mixed(YELLOW, STONE, 0.4))
    ring(view, (120, 130), (44, 48), DARK_WOOD)
    block(view, (520, 40), (90, 200), mixed(STONE, INK, 0.3))
    block(view, (530, 50), (70, 90), mixed(SKY, PAPER, 0.35))


def sit(view: Painting, sitter: Sitter, frame: int, loudness: float) -> None:
    """Paint the sitter as at `frame` of the recording; `loudness` 0 to 1 opens the mouth.

    The head wanders slowly and shifts every few seconds, as people's heads do: a jump in the
    source shows as a jump in the picture.
    """
    lean = sin(frame / 61 + sitter.phase) + 0.6 * sin(frame / 23 + 2 * sitter.phase)
    x = sitter.x + 17 * lean
    y = 152 + 9 * sin(frame / 47 + 3 * sitter.phase) + 3 * loudness
    tilt = 9 * sin(frame / 83 + sitter.phase)
    turn = 9 * sin(frame / 71 + 2.5 * sitter.phase)
    body = sitter.x + 6 * lean
    ellipse(view, (body, 372), (150, 118), sitter.shirt)
    polygon(view, [(body - 52, 290), (body + 52, 290), (body + 70, 362), (body - 70, 362)], sitter.apron)
    bar(view, (body - 46, 294), (body - 64, 262), 11, sitter.apron)
    bar(view, (body + 46, 294), (body + 64, 262), 11, sitter.apron)
    bar(view, (x, y + 50), (body, 272), 54, mixed(sitter.skin, INK, 0.18))
    if not sitter.bearded:
        disc(view, (x - tilt - turn, y - 86), 28, sitter.hair)
        ellipse(view, (x - tilt, y - 22), (76, 80), sitter.hair)
    else:
        ellipse(view, (x + tilt * 0.4, y + 36), (62, 66), sitter.hair)
    for side in (-1, 1):
        disc(view, (x + side * 64 - turn * 0.5, y + 4), 12, mixed(sitter.skin, INK, 0.1))
    ellipse(view, (x, y), (63, 80), sitter.skin)
    if sitter.bearded:
        ellipse(view, (x + turn * 0.4, y + 60), (56, 38), sitter.hair)
        ellipse(view, (x - tilt, y - 64), (68, 30), mixed(BLUE, INK, 0.5))
        bar(
            view,
            (x - 70 + turn, y - 50 + tilt),
            (x + 70 + turn, y - 50 - tilt),
            13,
            mixed(BLUE, INK, 0.65),
        )
    else:
        ellipse(view, (x - tilt - turn * 0.3, y - 58), (58, 27), sitter.hair)
    shut = (frame + int(40 * sitter.phase)) % 93 < 4  # a blink now and then
    _features(view, sitter, (x + turn, y), tilt=tilt, loudness=loudness, shut=shut)


def _features(
    view: Painting, sitter: Sitter, middle: tuple[float, float], *, tilt: float, loudness: float, shut: bool
) -> None:
    x, y = middle
    for side in (-1, 1):
        eye = (x + side * 25, y - 10 - side * tilt * 0.35)
        brow = eye[1] - 19 - 4 * loudness
        bar(
            view,
            (eye[0] - 12, brow - side * 2),
            (eye[0] + 12, brow + side * 2),
            6,
            mixed(sitter.hair, INK, 0.3),
        )
        if shut:
            bar(view, (eye[0] - 9, eye[1]), (eye[0] + 9, eye[1]), 3, INK)
        else:
            ellipse(view, eye, (10, 7), (246, 243, 236))
            disc(view, (eye[0] + 2, eye[1]), 5, INK)
    bar(view, (x + 2, y - 4), (x + 7, y + 18), 9, mixed(sitter.skin, INK, 0.14))
    if sitter.bearded:
        bar(view, (x - 24, y + 31), (x + 24, y + 31), 13, mixed(sitter.hair, STONE, 0.25))
    ellipse(view, (x, y + 44), (19 - 3 * loudness, 3.5 + 13 * loudness), mixed(RED, INK, 0.55))
    if loudness > 0.3:
        ellipse(view, (x, y + 48 + 4 * loudness), (10, 4 * loudness), mixed(RED, PAPER, 0.2))
