"""A row of black and white cells along the bottom of a picture: which frame of which clip this is.

Forty cells of 16 x 12 pixels in a 640 x 360 picture: sync 1 0 1 0, then 12 bits of clip number,
16 bits of frame number and a CRC-8 (polynomial 0x07, start 0) of those 28 bits packed big-endian
into four bytes. Black is 16 and white 235, the limits of studio range (ITU-R BT.601).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

WIDTH, HEIGHT = 640, 360
STRIP_HEIGHT = 12
CELLS = 40
SYNC = (1, 0, 1, 0)
BLACK, WHITE = 16, 235

Canvas = NDArray[np.uint8]
"""RGB, shape (height, width, 3)."""


def encode_strip(frame: Canvas, clip_number: int, frame_number: int) -> None:
    """Draw the strip into a 640 x 360 RGB picture, in place.

    Raises ValueError when a number does not fit its bits or the picture has another size.
    """
    if frame.shape != (HEIGHT, WIDTH, 3):
        raise ValueError(f"a strip is drawn into {WIDTH}x{HEIGHT} RGB, not {frame.shape}")
    if not (0 <= clip_number < 1 << 12 and 0 <= frame_number < 1 << 16):
        raise ValueError(f"clip {clip_number}, frame {frame_number} do not fit 12 and 16 bits")
    data = clip_number << 16 | frame_number
    bits = (*SYNC, *_bits(data, 28), *_bits(crc8(data.to_bytes(4, "big")), 8))
    row = np.repeat(np.where(np.array(bits, bool), WHITE, BLACK).astype(np.uint8), WIDTH // CELLS)
    frame[-STRIP_HEIGHT:] = row[np.newaxis, :, np.newaxis]


def _bits(number: int, count: int) -> tuple[int, ...]:
    return tuple(number >> place & 1 for place in range(count - 1, -1, -1))


def crc8(data: bytes) -> int:
    """The checksum of the strip: CRC-8, polynomial 0x07, start 0."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc << 1 ^ 0x07) & 0xFF if crc & 0x80 else crc << 1
    return crc
