"""A 5 x 7 dot alphabet of our own, for the names and numbers burned into pictures."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

# Seven rows a letter, each a number whose five bits are the dots from left to right.
_ROWS = {
    " ": (0, 0, 0, 0, 0, 0, 0),
    "-": (0, 0, 0, 14, 0, 0, 0),
    "0": (14, 17, 19, 21, 25, 17, 14),
    "1": (4, 12, 20, 4, 4, 4, 31),
    "2": (14, 17, 1, 6, 8, 16, 31),
    "3": (30, 1, 1, 14, 1, 1, 30),
    "4": (2, 6, 10, 18, 31, 2, 2),
    "5": (31, 16, 16, 30, 1, 1, 30),
    "6": (14, 16, 16, 30, 17, 17, 14),
    "7": (31, 1, 2, 4, 4, 8, 8),
    "8": (14, 17, 17, 14, 17, 17, 14),
    "9": (14, 17, 17, 15, 1, 1, 14),
    "A": (4, 10, 17, 17, 31, 17, 17),
    "B": (30, 17, 17, 30, 17, 17, 30),
    "C": (15, 16, 16, 16, 16, 16, 15),
    "D": (30, 17, 17, 17, 17, 17, 30),
    "E": (31, 16, 16, 28, 16, 16, 31),
    "F": (31, 16, 16, 28, 16, 16, 16),
    "G": (15, 16, 16, 19, 17, 17, 15),
    "H": (17, 17, 17, 31, 17, 17, 17),
    "I": (14, 4, 4, 4, 4, 4, 14),
    "J": (3, 1, 1, 1, 1, 17, 14),
    "K": (17, 18, 20, 24, 20, 18, 17),
    "L": (16, 16, 16, 16, 16, 16, 31),
    "M": (17, 27, 21, 21, 17, 17, 17),
    "N": (17, 25, 21, 21, 19, 17, 17),
    "O": (14, 17, 17, 17, 17, 17, 14),
    "P": (30, 17, 17, 30, 16, 16, 16),
    "Q": (14, 17, 17, 17, 21, 18, 13),
    "R": (30, 17, 17, 30, 20, 18, 17),
    "S": (15, 16, 16, 14, 1, 1, 30),
    "T": (31, 4, 4, 4, 4, 4, 4),
    "U": (17, 17, 17, 17, 17, 17, 14),
    "V": (17, 17, 17, 17, 10, 10, 4),
    "W": (17, 17, 17, 21, 21, 27, 17),
    "X": (17, 17, 10, 4, 10, 17, 17),
    "Y": (17, 17, 10, 4, 4, 4, 4),
    "Z": (31, 1, 2, 4, 8, 16, 31),
}


def lettered(text: str, scale: int = 2) -> NDArray[np.bool_]:
    """Dots of one line of text, shape (7 * scale, 6 * scale * letters), True where inked.

    Letters are drawn as capitals; a character that the alphabet lacks is left blank.
    """
    dots = np.zeros((7, 6 * len(text)), bool)
    for place, letter in enumerate(text.upper()):
        for row, number in enumerate(_ROWS.get(letter, _ROWS[" "])):
            dots[row, 6 * place : 6 * place + 5] = [number >> bit & 1 for bit in (4, 3, 2, 1, 0)]
    return dots.repeat(scale, axis=0).repeat(scale, axis=1)
