"""How far the other tracks let a join move."""

from __future__ import annotations

import pytest

from mltassist.joins.freedom import FAR, freedom
from mltassist.timeline.cuts import CutKind, SpeechEdit
from mltassist.timeline.elements import Element
from mltassist.timeline.model import Clip, Item, Timeline
from tests.timeline.films import row, timeline, track

AT = 100
BITES = row(("ines", AT, 400), ("ines", 200, 600))


def joined(items: tuple[Item, ...]) -> tuple[Timeline, SpeechEdit]:
    """A film with a jump at AT, beside another track."""
    made = timeline(track(1, "Interview", BITES), track(2, "Cutaways", items))
    before, after = (item for item in BITES if isinstance(item, Clip))
    return made, SpeechEdit(AT, 1, CutKind.JUMP, False, 100, before, after, Element.INTERVIEW)


@pytest.mark.parametrize(
    ("items", "least", "most"),
    [
        # The join comes to lie within the hole, of which a frame stays.
        (row(("wheel", 80), (None, 40), ("gate", 30)), -39, FAR),
        (row((None, AT), ("gate", 30)), -AT, FAR),  # the hole ends there: it may close
        (row(("wheel", AT), (None, 20), ("gate", 30)), -20, FAR),  # it begins there
        (row(("wheel", AT - 1), (None, 20), ("gate", 30)), -19, FAR),
        (
            row(("wheel", AT, 0), ("gate", 30)),
            -AT + 1,
            900,
        ),  # a clip ends there: longer or shorter
        (row(("wheel", AT + 10, 0), ("gate", 30)), -9, 890),  # one across it keeps a frame behind it
        (row(("wheel", AT)), -FAR, FAR),  # the track has ended
    ],
    ids=["across", "ends there", "begins there", "began before", "clip ends", "clip across", "ended"],
)
def test_a_join_moves_as_far_as_holes_and_clips_beside_it_give_way(
    items: tuple[Item, ...], least: int, most: int
) -> None:
    made, edit = joined(items)
    assert freedom(made, edit).shift == (least, most)
