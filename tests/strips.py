"""The strip of a demonstration clip read from a picture: which frame of which clip was shown."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mltassist.demofilm.strip import CELLS, HEIGHT, STRIP_HEIGHT, SYNC, Canvas, crc8

LEAST_CONTRAST = 40
"""Below this the sync cells are picture noise, or the frame is faded out."""


def read_strip(rgb: Canvas) -> tuple[int, int] | None:
    """(clip number, frame number) from a picture of any size scaled from 640 x 360.

    Returns None when the sync cells or the checksum are wrong. The threshold follows the sync
    cells, so moderate fades are read too.
    """
    height, width = rgb.shape[:2]
    tall, wide = height * STRIP_HEIGHT / HEIGHT, width / CELLS
    if tall < 2 or wide < 2:
        return None
    # The middle half of each cell: its edges are softened by scaling and coding.
    top = round(height - tall * 0.75)
    band = rgb[top : max(top + 1, round(height - tall * 0.25))].mean(axis=(0, 2))
    middles = (np.arange(CELLS) + 0.5) * wide
    values = np.array(
        [band[int(at - wide / 4) : max(int(at - wide / 4) + 1, int(at + wide / 4))].mean() for at in middles]
    )
    low, high = values[[1, 3]].mean(), values[[0, 2]].mean()
    if high - low < LEAST_CONTRAST:
        return None
    bits = values > (low + high) / 2
    if tuple(int(bit) for bit in bits[:4]) != SYNC:
        return None
    data, check = _number(bits[4:32]), _number(bits[32:])
    return (data >> 16, data & 0xFFFF) if crc8(data.to_bytes(4, "big")) == check else None


def _number(bits: NDArray[np.bool_]) -> int:
    return int("".join("1" if bit else "0" for bit in bits), 2)
