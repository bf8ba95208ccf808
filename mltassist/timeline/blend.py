"""What lays one track of pictures over another."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from mltassist.frames import Span


class PictureFit(StrEnum):
    """How a picture comes into the frame where tracks are laid over each other."""

    PLACED = "placed"
    """As large as the frame, or as effects place it; its shape is kept."""
    INSIDE = "inside"
    """As large as the frame; effects do not make it larger."""
    OWN = "own"
    """The same, but one of few pixels stays as small as it is."""
    STRETCHED = "stretched"
    """It fills the frame, whatever its shape."""


@dataclass(frozen=True, slots=True)
class Blend:
    """What lays one track over another, by their numbers. span: where it does so; None: everywhere.

    thin: what lies beneath is seen through it, whatever the clip (opacity, a rectangle, a way of mixing).
    unknown: its service, where nobody here knows what it does.
    """

    lower: int
    upper: int
    span: Span | None = None
    thin: bool = False
    unknown: str = ""
    fit: PictureFit = PictureFit.PLACED
