"""Pictures of the demonstration film, 640 x 360 RGB, each carrying its clip's name and frame number."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from mltassist.demofilm import faces, indoors, outdoors
from mltassist.demofilm.drawing import Floats, Painting, Scene, blank_picture, camera_on
from mltassist.demofilm.lettering import lettered
from mltassist.demofilm.strip import Canvas, encode_strip

Painter = Callable[[int], Canvas]
"""The picture at a frame number; the caller owns it and may paint on it."""

SCENES: dict[str, Scene] = {
    "wheel": outdoors.WHEEL,
    "sluice gate": outdoors.GATE,
    "millstones": indoors.MILLSTONES,
    "flour": indoors.FLOUR,
    "sacks": indoors.SACKS,
    "gulls": outdoors.GULLS,
    "mud banks": outdoors.MUD_BANKS,
    "rising tide": outdoors.TIDE,
    "ledger": indoors.LEDGER,
    "tools": indoors.TOOLS,
    "hands": indoors.HANDS,
    "winch": outdoors.WINCH,
    "reeds": outdoors.REEDS,
}

ZOOMS = {"WS": 1.0, "MS": 1.6, "CU": 2.5, "ECU": 3.8}
"""Pixels per world unit for each picture size."""

_MARGIN = 10


def scene(subject: str, size: str) -> Painter:
    """Painter of a subject seen at a picture size, with its movement."""
    what = SCENES[subject]
    camera = camera_on(what.focus, ZOOMS[size])
    still = blank_picture()
    what.still(Painting(still, camera))
    drawn: dict[int, Canvas] = {}

    def paint(frame: int) -> Canvas:
        moment = frame % what.period if what.period else frame
        if moment in drawn:
            return drawn[moment].copy()
        picture = still.copy()
        what.moving(Painting(picture, camera), moment)
        if what.period:
            drawn[moment] = picture.copy()
        return picture

    return paint


def talking_head(speaker: str, loudness: Floats) -> Painter:
    """Painter of 'ines' or 'tobias' speaking; `loudness` holds one value 0 to 1 per frame."""
    sitter, room = {
        "ines": (faces.INES_SITTING, faces.mill_room),
        "tobias": (faces.TOBIAS_SITTING, faces.gate_house),
    }[speaker]
    still = blank_picture()
    room(Painting(still))

    def paint(frame: int) -> Canvas:
        picture = still.copy()
        faces.sit(Painting(picture), sitter, frame, float(loudness[frame]))
        return picture

    return paint


def numbered(painter: Painter, name: str, clip_number: int) -> Painter:
    """The same pictures with name and frame number at the top left, and the code strip below."""

    def paint(frame: int) -> Canvas:
        picture = painter(frame)
        dots = np.pad(lettered(f"{name} {frame:04}"), 4)
        rows, columns = dots.shape
        plate = picture[_MARGIN : _MARGIN + rows, _MARGIN : _MARGIN + columns]
        plate[:] = plate // 3
        plate[dots] = (236, 232, 220)
        encode_strip(picture, clip_number, frame)
        return picture

    return paint
