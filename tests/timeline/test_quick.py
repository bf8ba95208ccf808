"""Clips and gaps made the quick way are those made the ordinary way."""

from dataclasses import FrozenInstanceError, fields, replace
from fractions import Fraction
from pathlib import Path

import pytest

from mltassist.timeline.model import Clip, Gap, Source, SourceKind, quick_clip, quick_gap

SOURCE = Source("/a.mkv", SourceKind.FILE, Path("/a.mkv"), 100)
CLIP = Clip(10, 20, SOURCE, 5, "a", False, True, Fraction(2), remap=((0, Fraction(3)),), keeps_pitch=True)


@pytest.mark.parametrize("one", [CLIP, Gap(3, 4)])
def test_it_is_one_of_its_class_in_every_way(one: Clip | Gap):
    make = quick_clip if isinstance(one, Clip) else quick_gap
    made = make(*(getattr(one, field.name) for field in fields(one)))
    assert type(made) is type(one)
    assert (made, hash(made), repr(made)) == (one, hash(one), repr(one))
    assert replace(made, start=11) == replace(one, start=11)
    with pytest.raises(FrozenInstanceError):
        made.start = 1  # type: ignore[misc]
