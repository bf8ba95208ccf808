"""Colours of the drawn pictures: the Okabe-Ito colour-blind-safe set, muted toward grey and paper."""

from __future__ import annotations

from mltassist.demofilm.drawing import Colour, mixed

_GREY = (128, 126, 120)

ORANGE: Colour = mixed((230, 159, 0), _GREY, 0.35)
SKY: Colour = mixed((86, 180, 233), _GREY, 0.35)
GREEN: Colour = mixed((0, 158, 115), _GREY, 0.45)
YELLOW: Colour = mixed((240, 228, 66), _GREY, 0.35)
BLUE: Colour = mixed((0, 114, 178), _GREY, 0.4)
RED: Colour = mixed((213, 94, 0), _GREY, 0.35)
INK: Colour = (38, 40, 46)
PAPER: Colour = (233, 227, 212)
STONE: Colour = (150, 145, 136)
DARK_STONE: Colour = (96, 93, 90)
WOOD: Colour = mixed(ORANGE, INK, 0.45)
DARK_WOOD: Colour = mixed(ORANGE, INK, 0.72)
SKIN: Colour = mixed(mixed(ORANGE, RED, 0.5), PAPER, 0.55)
MUD: Colour = mixed((122, 104, 84), _GREY, 0.2)
