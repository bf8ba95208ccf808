"""Scenes of the creek: wheel, sluice gate, gulls, mud banks, rising tide, reeds."""

from __future__ import annotations

from math import cos, pi, sin

import numpy as np

from mltassist.demofilm.drawing import (
    Floats,
    Painting,
    Scene,
    bar,
    block,
    disc,
    ellipse,
    gradient,
    ground,
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
    MUD,
    ORANGE,
    PAPER,
    RED,
    SKY,
    STONE,
    WOOD,
    YELLOW,
)

_PALE_SKY = mixed(SKY, PAPER, 0.6)
_DEEP = mixed(BLUE, INK, 0.25)
_FOAM = mixed(SKY, PAPER, 0.75)


def _ripples(view: Painting, frame: int, top: float, bottom: float, seed: int) -> None:
    """Short light strokes that slide along a water surface."""
    random = np.random.default_rng(seed)
    for _ in range(18):
        x, y, length, speed = (float(v) for v in random.uniform((0, top, 18, 0.3), (700, bottom, 60, 1.0)))
        x = (x + speed * frame) % 720 - 60
        bar(view, (x, y), (x + length, y), 2.0, _FOAM, cover=0.55)


def _courses(view: Painting, left: float, top: float, right: float, bottom: float) -> None:
    """A wall of dressed stone."""
    block(view, (left, top), (right - left, bottom - top), STONE)
    for row, y in enumerate(np.arange(top, bottom, 22.0)):
        bar(view, (left, y), (right, y), 1.6, DARK_STONE, cover=0.7)
        for x in np.arange(left + (row % 2) * 22 + 8, right, 44.0):
            bar(view, (x, y), (x, min(y + 22, bottom)), 1.6, DARK_STONE, cover=0.7)


_AXLE = (350.0, 185.0)


def _wheel_still(view: Painting) -> None:
    gradient(view, SKY, PAPER)
    ground(view, lambda x: 190 + 12 * np.sin(x / 90), mixed(GREEN, PAPER, 0.25))
    _courses(view, 0, 60, 250, 360)
    polygon(view, [(-20, 62), (110, -10), (275, 62)], mixed(RED, INK, 0.35))
    block(view, (90, 110), (54, 62), INK)
    block(view, (94, 114), (21, 54), mixed(YELLOW, INK, 0.3))
    block(view, (119, 114), (21, 54), mixed(YELLOW, INK, 0.3))
    block(view, (0, 272), (640, 90), _DEEP)
    block(view, (480, 225), (160, 140), DARK_STONE)


def _wheel_moving(view: Painting, frame: int) -> None:
    turned = frame / 25  # a twelfth of a turn every second
    wheel(view, _AXLE, (86, 132), spokes=12, turned=turned, width=9, colour=DARK_WOOD)
    wheel(view, _AXLE, (8, 104), spokes=6, turned=turned / 2, width=8, colour=WOOD)
    ring(view, _AXLE, (92, 103), WOOD)
    ring(view, _AXLE, (110, 115), mixed(WOOD, INK, 0.3))
    disc(view, _AXLE, 15, DARK_WOOD)
    disc(view, _AXLE, 6, ORANGE)
    block(view, (235, 283), (245, 80), _DEEP, cover=0.75)
    for number in range(14):
        rise = (frame / 50 + number * 0.381) % 1.0
        x = 440 + 38 * cos(number * 1.3) + 16 * rise
        y = 284 - (22 + number % 5 * 9) * sin(pi * rise)
        disc(view, (x, y), 2.6 + number % 3, _FOAM, cover=0.8)
    for number in range(6):
        x = 245 + (frame * 2 + number * 200 / 6) % 200
        bar(view, (x, 296 + number % 3 * 17), (x + 34, 296 + number % 3 * 17), 2.4, _FOAM, cover=0.6)


def _gate_still(view: Painting) -> None:
    gradient(view, _PALE_SKY, PAPER)
    ground(view, lambda x: 118 + 6 * np.sin(x / 70), mixed(GREEN, INK, 0.1))
    block(view, (205, 120), (230, 240), INK)
    _courses(view, 0, 110, 210, 360)
    _courses(view, 430, 110, 640, 360)
    block(view, (212, 36), (16, 324), DARK_WOOD)
    block(view, (412, 36), (16, 324), DARK_WOOD)
    block(view, (200, 26), (240, 18), WOOD)


def _gate_moving(view: Painting, frame: int) -> None:
    lift = min(frame, 300) * 0.32
    top = 150 - lift
    for x in (262.0, 378.0):
        bar(view, (x, 44), (x, top + 6), 4, STONE)
    block(view, (228, top), (184, 160), WOOD)
    for plank in range(1, 5):
        bar(view, (228, top + 32 * plank), (412, top + 32 * plank), 2, DARK_WOOD)
    bar(view, (240, top + 8), (400, top + 152), 7, mixed(WOOD, PAPER, 0.2))
    bottom = top + 160
    block(view, (228, bottom), (184, max(0.1, 312 - bottom)), mixed(BLUE, SKY, 0.5))
    for number in range(7):
        x = 240 + number * 26 + 3 * sin(frame / 4 + number)
        bar(view, (x, bottom + 2), (x, 312), 4, _FOAM, cover=0.7)
    block(view, (210, 308), (220, 52), _DEEP)
    for number in range(9):
        x = 222 + (number * 47 + frame * 1.3) % 190
        ellipse(view, (x, 312 + number % 4 * 6), (13, 4), _FOAM, cover=0.6)
    turned = frame / 18
    wheel(view, (320, 35), (3, 36), spokes=4, turned=turned, width=6, colour=INK)
    disc(view, (320, 35), 12, RED)


def _gulls_still(view: Painting) -> None:
    gradient(view, SKY, PAPER)
    for x, y, wide in ((120, 70, 90), (460, 110, 130), (330, 40, 60)):
        ellipse(view, (x, y), (wide, 12), PAPER, cover=0.5)
    ground(view, lambda x: 262 + 7 * np.sin(x / 80), mixed(GREEN, PAPER, 0.3))
    block(view, (0, 290), (640, 70), mixed(BLUE, SKY, 0.4))


def _gulls_moving(view: Painting, frame: int) -> None:
    for number in range(8):
        size = 16 + number % 4 * 6
        x = (number * 97 + frame * (1.1 + number % 3 * 0.35)) % 760 - 60
        y = 95 + number % 5 * 34 + 12 * sin(frame / 21 + number)
        flap = sin(frame / 4.5 + number * 1.7)
        elbow = 0.25 + 0.35 * flap
        for side in (-1, 1):
            joint = (x + side * size * 0.8, y - size * elbow)
            tip = (x + side * size * 1.8, y - size * (elbow - 0.45 * flap) + 4)
            bar(view, (x, y), joint, size * 0.24, PAPER)
            bar(view, joint, tip, size * 0.17, mixed(STONE, INK, 0.2))
        ellipse(view, (x, y + 1), (size * 0.5, size * 0.2), (246, 243, 236))
        disc(view, (x + size * 0.5, y - 1), size * 0.16, (246, 243, 236))
        bar(view, (x + size * 0.62, y), (x + size * 0.8, y + 1), size * 0.1, ORANGE)


def _bank(x: Floats) -> Floats:
    return np.asarray(212 + 26 * np.sin(x / 110) + 9 * np.sin(x / 37 + 1), np.float32)


def _mud_still(view: Painting) -> None:
    gradient(view, _PALE_SKY, PAPER)
    ground(view, lambda x: 132 + 5 * np.sin(x / 60), mixed(GREEN, PAPER, 0.2))
    ground(view, lambda x: 150 + 4 * np.sin(x / 45), mixed(MUD, PAPER, 0.25))
    ground(view, lambda x: 182 + 3 * np.sin(x / 85), mixed(SKY, PAPER, 0.25))
    ground(view, _bank, MUD)
    ground(view, lambda x: _bank(x + 260) + 58, mixed(MUD, INK, 0.25))
    random = np.random.default_rng(7)
    for x, y in random.uniform((0, 262), (640, 345), (46, 2)):
        ellipse(view, (x, y), (7, 2.4), mixed(MUD, INK, 0.5), cover=0.8)
        ellipse(view, (x - 1, y - 2), (4, 1.6), mixed(MUD, PAPER, 0.35), cover=0.8)


def _mud_moving(view: Painting, frame: int) -> None:
    for number in range(7):
        x = (number * 103 + frame * 0.8) % 700 - 50
        shine = 0.4 + 0.3 * sin(frame / 9 + number)
        bar(view, (x, 190 + number % 2 * 4), (x + 40, 190 + number % 2 * 4), 2, PAPER, cover=shine)
    # Two waders walk along the water's edge.
    for number, start in enumerate((180.0, 420.0)):
        x = start + frame * (0.25 + 0.1 * number)
        y = float(_bank(np.array([x], np.float32))[0])
        peck = 5 * max(0.0, sin(frame / 7 + number * 2))
        step = 3 * sin(frame / 3)
        bar(view, (x, y - 12), (x + step, y + 1), 1.6, INK)
        bar(view, (x, y - 12), (x - step, y + 1), 1.6, INK)
        ellipse(view, (x, y - 15), (10, 5.5), mixed(STONE, INK, 0.3))
        disc(view, (x + 10, y - 20 + peck), 3.6, mixed(STONE, INK, 0.4))
        bar(view, (x + 12, y - 20 + peck), (x + 22, y - 17 + peck), 1.6, ORANGE)


def _tide_still(view: Painting) -> None:
    gradient(view, _PALE_SKY, PAPER)
    ground(view, lambda x: 128 + 8 * np.sin(x / 75), mixed(GREEN, PAPER, 0.1))
    ground(view, lambda x: 175 + 0.05 * x, MUD)
    block(view, (300, 60), (34, 300), mixed(PAPER, STONE, 0.15))
    for mark in range(12):
        wide = 26 if mark % 2 == 0 else 14
        block(view, (300, 74 + mark * 22), (wide, 6), RED if mark % 4 == 0 else INK)
    bar(view, (470, 120), (470, 360), 16, DARK_WOOD)
    bar(view, (545, 135), (545, 360), 14, DARK_WOOD)
    bar(view, (460, 150), (600, 150), 7, WOOD)


def _tide_moving(view: Painting, frame: int) -> None:
    level = 268 - frame * 0.25
    ground(view, lambda x: level + 2.5 * np.sin(x / 24 + frame / 6), mixed(BLUE, SKY, 0.3), cover=0.88)
    _ripples(view, frame, level + 10, 345, 5)
    x, y = 170.0, level + 2 * sin(frame / 8)
    polygon(view, [(x - 52, y - 14), (x + 60, y - 16), (x + 40, y + 9), (x - 38, y + 9)], RED)
    bar(view, (x - 54, y - 15), (x + 62, y - 17), 4, PAPER)


def _reeds_still(view: Painting) -> None:
    gradient(view, SKY, mixed(ORANGE, PAPER, 0.7))
    ground(view, lambda x: 210 + 5 * np.sin(x / 95), mixed(GREEN, PAPER, 0.35))
    ground(view, lambda x: 238 + 0 * x, mixed(SKY, PAPER, 0.2))


def _reeds_moving(view: Painting, frame: int) -> None:
    gust = 12 + 10 * sin(frame * 2 * pi / 150)
    for number in range(30):
        x = 10 + number * 21.5 + number % 3 * 5
        high = 150 + number * 37 % 80
        sway = gust * (1 + 0.5 * sin(frame * 2 * pi / 50 + number * 0.5))
        knee, tip = (x + sway * 0.3, 360 - high * 0.55), (x + sway, 360 - high)
        colour = mixed(GREEN, ORANGE, 0.25 + number % 4 * 0.12)
        bar(view, (x, 360), knee, 5, mixed(colour, INK, 0.25))
        bar(view, knee, tip, 3.4, colour)
        bar(view, tip, (tip[0] + sway * 0.25, tip[1] - 24), 9, mixed(DARK_WOOD, RED, 0.3))


WHEEL = Scene(_wheel_still, _wheel_moving, (425, 235), 100)
GATE = Scene(_gate_still, _gate_moving, (320, 250))
WINCH = Scene(_gate_still, _gate_moving, (320, 60))
GULLS = Scene(_gulls_still, _gulls_moving, (330, 150))
MUD_BANKS = Scene(_mud_still, _mud_moving, (300, 215))
TIDE = Scene(_tide_still, _tide_moving, (290, 240))
REEDS = Scene(_reeds_still, _reeds_moving, (320, 240), 150)
