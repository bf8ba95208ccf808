"""What a file looks like, from a few of its pictures."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mltassist.media.cache import Analysis, remembered
from mltassist.media.picture.glimpses import glimpses
from mltassist.media.picture.kind import Appearance, appearance, signature

_HINTS = Analysis("picture hints", 3)
COUNT = 6
"""Pictures that are looked at: one that is black, or in which a hand passes, does not decide."""


@dataclass(frozen=True, slots=True)
class PictureHints:
    """How a file's pictures look, and the signature of the middle one, by which shots are compared."""

    appearance: Appearance
    signature: NDArray[np.float32]


def picture_hints(path: Path) -> PictureHints:
    """Look at a few pictures of a file; remembered.

    Raises SourceMissing when there is no file, MediaError when it has no picture that can be decoded.
    """

    def looked() -> dict[str, NDArray[np.float32]]:
        pictures, _ = glimpses(path, COUNT)
        seen = appearance(pictures)
        row = np.array([getattr(seen, field.name) for field in fields(Appearance)], np.float32)
        return {"appearance": row, "signature": signature(pictures[len(pictures) // 2])}

    found = remembered(path, _HINTS, looked)
    values = found["appearance"].tolist()
    return PictureHints(Appearance(int(values[0]), *values[1:]), found["signature"])
