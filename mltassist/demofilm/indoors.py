"""Scenes inside the mill: millstones, flour, sacks, ledger, tools, hands."""

from __future__ import annotations

from itertools import pairwise
from math import cos, pi, sin

import numpy as np

from mltassist.demofilm.drawing import (
    Painting,
    Scene,
    bar,
    block,
    disc,
    ellipse,
    gradient,
    mixed,
    polygon,
    ring,
    wheel,
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

_FLOUR = (243, 238, 226)
_WALL = mixed(STONE, PAPER, 0.35)


def _boards(view: Painting, top: float) -> None:
    """A floor of planks."""
    block(view, (0, top), (640, 360 - top), WOOD)
    for x in range(-200, 860, 62):
        bar(view, (320 + (x - 320) * 0.7, top), (x, 360), 2, DARK_WOOD)


def _stones_still(view: Painting) -> None:
    gradient(view, mixed(WOOD, INK, 0.2), WOOD)
    for y in range(0, 360, 40):
        bar(view, (0, y), (640, y), 2, DARK_WOOD)
    disc(view, (320, 178), 158, DARK_WOOD)
    disc(view, (320, 178), 146, _FLOUR)


def _stones_moving(view: Painting, frame: int) -> None:
    middle, turned = (320.0, 178.0), frame / 10  # an eighth of a furrow ring in 10 frames
    disc(view, middle, 134, STONE)
    wheel(view, middle, (34, 131), spokes=20, turned=turned, width=4, colour=DARK_STONE)
    wheel(view, middle, (34, 131), spokes=4, turned=turned / 5, width=13, colour=mixed(STONE, PAPER, 0.45))
    ring(view, middle, (128, 134), DARK_STONE)
    disc(view, middle, 34, mixed(DARK_STONE, INK, 0.3))
    wheel(view, middle, (0, 32), spokes=2, turned=turned / 10, width=12, colour=INK)
    disc(view, middle, 10, ORANGE)
    for number in range(12):
        angle = number * 2.399 + frame * 2 * pi / 100
        out = 136 + (number * 7 + frame * 0.2) % 10
        disc(view, (320 + out * cos(angle), 178 + out * sin(angle)), 3, PAPER)


def _flour_still(view: Painting) -> None:
    gradient(view, mixed(_WALL, INK, 0.35), mixed(_WALL, INK, 0.15))
    polygon(view, [(235, 0), (405, 0), (345, 96), (295, 96)], WOOD)
    bar(view, (236, 0), (296, 96), 5, DARK_WOOD)
    bar(view, (404, 0), (344, 96), 5, DARK_WOOD)
    block(view, (160, 246), (320, 114), DARK_WOOD)


def _flour_moving(view: Painting, frame: int) -> None:
    height = 70 + frame * 0.06
    block(view, (300, 94), (40, 250 - height + 30), _FLOUR, cover=0.75)
    for number in range(46):
        fall = (number * 0.618 + frame / 18) % 1.0
        x = 320 + 20 * sin(number * 1.3) * (0.8 + 0.5 * fall)
        disc(view, (x, 96 + fall * (222 - height)), 2.2, (255, 252, 244))
    ellipse(view, (320, 318), (148, height), _FLOUR)
    ellipse(view, (300, 318), (90, height * 0.9), (250, 247, 238))
    for number in range(10):
        drift = (number * 0.37 + frame / 70) % 1.0
        x = 320 + (60 + 90 * drift) * cos(number * 1.9)
        disc(view, (x, 246 - 60 * drift), 5 + 8 * drift, PAPER, cover=0.25 * (1 - drift))
    block(view, (160, 272), (320, 90), WOOD)
    bar(view, (160, 274), (480, 274), 6, mixed(WOOD, PAPER, 0.3))


def _sack(view: Painting, x: float, foot: float, shade: float) -> None:
    cloth = mixed(mixed(YELLOW, PAPER, 0.55), INK, shade)
    ellipse(view, (x, foot - 58), (46, 58), cloth)
    block(view, (x - 42, foot - 62), (84, 60), cloth)
    polygon(
        view,
        [(x - 22, foot - 142), (x + 22, foot - 142), (x + 12, foot - 108), (x - 12, foot - 108)],
        cloth,
    )
    bar(view, (x - 15, foot - 113), (x + 15, foot - 113), 6, RED)
    bar(view, (x - 26, foot - 84), (x - 34, foot - 20), 3, mixed(cloth, INK, 0.3), cover=0.6)
    wheel(view, (x + 6, foot - 50), (3, 15), spokes=8, turned=0.2, width=4, colour=mixed(BLUE, cloth, 0.2))
    ring(view, (x + 6, foot - 50), (14, 18), mixed(BLUE, cloth, 0.2))


def _sacks_still(view: Painting) -> None:
    gradient(view, mixed(_WALL, INK, 0.2), _WALL)
    _boards(view, 268)
    block(view, (452, 30), (120, 110), INK)
    block(view, (460, 38), (104, 94), mixed(SKY, PAPER, 0.4))
    bar(view, (512, 38), (512, 132), 6, INK)
    for number, x in enumerate((120.0, 208.0, 300.0, 392.0)):
        _sack(view, x, 282, 0.22 - 0.03 * number)
    for number, x in enumerate((165.0, 260.0, 355.0)):
        _sack(view, x, 322, 0.06 * (2 - number))


def _sacks_moving(view: Painting, frame: int) -> None:
    slide = 22 * sin(frame / 70)
    corners = [(470 + slide, 60.0), (560 + slide, 60.0), (420 + slide * 2, 340.0), (180 + slide * 2, 340.0)]
    polygon(view, corners, (255, 248, 220), cover=0.16)
    for number in range(26):
        x = 220 + (number * 61 + frame * 0.4) % 300
        y = 90 + (number * 43 + frame * (0.25 + number % 3 * 0.12)) % 220
        disc(view, (x, y), 1.7, PAPER, cover=0.75)


_LINES = 7


def _ledger_still(view: Painting) -> None:
    gradient(view, WOOD, mixed(WOOD, INK, 0.35))
    polygon(view, [(70, 62), (570, 62), (612, 326), (28, 326)], mixed(RED, INK, 0.45))
    polygon(view, [(84, 56), (320, 66), (320, 318), (46, 312)], PAPER)
    polygon(view, [(320, 66), (556, 56), (594, 312), (320, 318)], mixed(PAPER, STONE, 0.12))
    bar(view, (320, 66), (320, 318), 4, mixed(PAPER, INK, 0.4))
    random = np.random.default_rng(3)
    for line in range(_LINES + 1):
        y = 92 + line * 28
        bar(view, (84 - line * 4, y), (304, y + 3), 1.2, SKY)
        bar(view, (336, y + 3), (558 + line * 4, y), 1.2, SKY)
        if line < _LINES:
            _writing(view, 96 - line * 3, y + 20, 1.0, random.uniform(0, 9))
        if line < 3:
            _writing(view, 350, y + 20, 1.0, random.uniform(0, 9))


def _writing(view: Painting, x: float, y: float, share: float, phase: float) -> None:
    """A line of looping script, the first `share` of it."""
    steps = int(44 * share)
    points = [(x + 4.4 * n, y + (5 * sin(n * 1.7 + phase) * sin(n * 0.31 + phase) - 1)) for n in range(steps)]
    for start, end in pairwise(points):
        if sin(start[0] * 0.12 + phase) > -0.8:  # gaps between words
            bar(view, start, end, 2, mixed(BLUE, INK, 0.5))


def _ledger_moving(view: Painting, frame: int) -> None:
    share = min(1.0, frame / 290)
    _writing(view, 350, 196, share, 2.0)
    x, y = 350 + 4.4 * 44 * share, 194 + 3 * sin(frame * 0.9)
    bar(view, (x + 10, y - 16), (x + 66, y - 100), 9, ORANGE)
    bar(view, (x, y), (x + 10, y - 16), 4, INK)
    bar(view, (x + 62, y - 94), (x + 70, y - 106), 9, PAPER)


def _tools_still(view: Painting) -> None:
    gradient(view, mixed(WOOD, PAPER, 0.3), mixed(WOOD, PAPER, 0.1))
    for x in range(0, 641, 64):
        bar(view, (x, 0), (x, 360), 2.4, mixed(WOOD, INK, 0.2))
    block(view, (40, 66), (560, 20), DARK_WOOD)
    for x in range(80, 600, 80):
        bar(view, (x, 76), (x, 92), 5, INK)
    # Hammer, mill pick, saw, spanner, from left to right; the mallet hangs loose and sways.
    bar(view, (90, 110), (90, 270), 12, ORANGE)
    block(view, (56, 94), (70, 30), DARK_STONE)
    bar(view, (190, 110), (190, 280), 11, WOOD)
    polygon(view, [(146, 112), (190, 98), (234, 112), (190, 124)], mixed(BLUE, INK, 0.3))
    polygon(view, [(398, 96), (440, 104), (452, 262), (434, 262)], mixed(SKY, STONE, 0.5))
    bar(view, (412, 112), (440, 112), 18, RED)
    bar(view, (530, 128), (530, 268), 14, DARK_STONE)
    ring(view, (530, 112), (12, 25), DARK_STONE)
    ring(view, (530, 282), (10, 22), DARK_STONE)


def _tools_moving(view: Painting, frame: int) -> None:
    swing = 0.16 * sin(frame * 2 * pi / 75)
    across, down = sin(swing), cos(swing)

    def hung(along: float, aside: float = 0.0) -> tuple[float, float]:
        return 310 + across * along + down * aside, 82 + down * along - across * aside

    bar(view, hung(0), hung(40), 3, PAPER)
    bar(view, hung(40), hung(170), 12, mixed(ORANGE, PAPER, 0.25))
    bar(view, hung(180, -30), hung(180, 30), 44, GREEN)
    bar(view, hung(170, -30), hung(170, 30), 8, mixed(GREEN, PAPER, 0.3))


def _hands_still(view: Painting) -> None:
    gradient(view, mixed(_WALL, INK, 0.45), mixed(_WALL, INK, 0.25))
    _boards(view, 288)
    ellipse(view, (320, 318), (230, 58), DARK_WOOD)
    ellipse(view, (320, 306), (214, 44), WOOD)


def _hands_moving(view: Painting, frame: int) -> None:
    lift = 10 * sin(frame * 2 * pi / 75)
    ellipse(view, (320, 306), (170, 32), _FLOUR)
    for number in range(26):
        fall = (number * 0.618 + frame / 25) % 1.0
        x = 320 + 52 * sin(number * 1.3)
        disc(view, (x, 226 + lift + fall * (74 - lift)), 2, _FLOUR)
    for side, shade in ((-1, 0.0), (1, 0.08)):
        skin = mixed(SKIN, INK, shade)
        crease = mixed(skin, INK, 0.35)
        wrist = (320 + side * 165, 150 + lift)
        bar(view, (320 + side * 290, 90 + lift * 0.4), wrist, 74, mixed(BLUE, INK, 0.2))
        bar(view, wrist, (320 + side * 108, 186 + lift), 52, skin)
        ellipse(view, (320 + side * 82, 196 + lift), (58, 33), skin)
        bar(view, (320 + side * 104, 176 + lift), (320 + side * 52, 158 + lift), 19, skin)
        for finger in range(4):
            y = 186 + finger * 13 + lift
            tip = (320 + side * (8 + finger * 5), y + 8 + 3 * sin(frame * 2 * pi / 75 + finger))
            bar(view, (320 + side * 66, y), tip, 16, skin)
            bar(view, (320 + side * 60, y + 8), (tip[0] + side * 5, tip[1] + 7), 1.6, crease, cover=0.7)
    ellipse(view, (320, 176 + lift), (46, 18), _FLOUR)


MILLSTONES = Scene(_stones_still, _stones_moving, (400, 220), 100)
FLOUR = Scene(_flour_still, _flour_moving, (320, 210))
SACKS = Scene(_sacks_still, _sacks_moving, (300, 240))
LEDGER = Scene(_ledger_still, _ledger_moving, (420, 190))
TOOLS = Scene(_tools_still, _tools_moving, (318, 236), 75)
HANDS = Scene(_hands_still, _hands_moving, (320, 210), 75)
