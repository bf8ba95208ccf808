"""Films written for tests: pictures in, a file out that keeps them exactly."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray


def written(path: Path, pictures: NDArray[np.float32], rate: Fraction = Fraction(25)) -> Path:
    """Grey pictures (n, height, width), 0 to 1, as lossless FFV1 with every picture stored whole."""
    with av.open(str(path), "w") as film:
        stream = film.add_stream("ffv1", rate=rate)
        stream.height, stream.width = pictures.shape[1:]
        stream.pix_fmt = "gray"
        stream.codec_context.gop_size = 1
        for picture in pictures:
            grey = np.clip(np.rint(picture * 255), 0, 255).astype(np.uint8)
            film.mux(stream.encode(av.VideoFrame.from_ndarray(grey, format="gray")))
        film.mux(stream.encode(None))
    return path


def numbered(count: int, height: int = 24, width: int = 32) -> NDArray[np.float32]:
    """Pictures told apart by their grey: number n is n / 255 all over."""
    return np.repeat(np.arange(count, dtype=np.float32) / 255, height * width).reshape(count, height, width)
