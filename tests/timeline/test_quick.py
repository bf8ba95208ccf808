"""Clips and gaps made the quick way are those made the ordinary way."""

from dataclasses import FrozenInstanceError, replace
from fractions import Fraction
from pathlib import Path

import pytest

from mltassist.frames import Span
from mltassist.timeline.model import Clip, Gap, LevelCurve, Source, SourceKind, Veil
from mltassist.timeline.quick import clips_like, gap

SOURCE = Source("/a.mkv", SourceKind.FILE, Path("/a.mkv"), 100)
CLIP = Clip(
    10,
    20,
    SOURCE,
    5,
    "a",
    plays_picture=False,
    plays_sound=False,
    speed=Fraction(2),
    levels=(LevelCurve(()),),
    remap=((0, Fraction(3)),),
    sound_stream=1,
    reframed=True,
    zoom=(Fraction(2), Fraction(3)),
    keeps_pitch=True,
    veil=Veil(thin=(Span(1, 2),)),
)
"""Not one of its fields holds what it does by default."""


@pytest.mark.parametrize(
    ("made", "one"),
    [
        (clips_like(CLIP)(10, 20, 0), CLIP),
        (clips_like(CLIP)(7, 8, 9), replace(CLIP, start=7, length=8, source_in=14)),
        (gap(3, 4), Gap(3, 4)),
    ],
)
def test_it_is_one_of_its_class_in_every_way(made: Clip | Gap, one: Clip | Gap):
    assert type(made) is type(one)
    assert (made, hash(made), repr(made)) == (one, hash(one), repr(one))
    assert replace(made, start=11) == replace(one, start=11)
    with pytest.raises(FrozenInstanceError):
        made.start = 1  # type: ignore[misc]
