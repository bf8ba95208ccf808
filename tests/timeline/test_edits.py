"""What the edits are: a closed set, each with a reason and, where it fills one, a place."""

from __future__ import annotations

from mltassist.frames import Span
from mltassist.timeline.edits import (
    EDITS,
    AddMarker,
    ClearOurs,
    Edit,
    LayNatural,
    LayShot,
    LayUnder,
    NudgeJoin,
    OpenPause,
    SetLevelCurve,
    span_of,
)
from mltassist.timeline.moves import moves_of


def test_the_span_of_an_edit_is_what_it_fills() -> None:
    filling = (
        LayShot(100, 50, "/a.mov", 7, "why"),
        LayNatural(100, 50, "/a.mov", 7, "why"),
        LayUnder(100, 50, "/a.mov", 7, "why"),
        OpenPause(100, 50, "why", (3,)),
    )
    assert [span_of(edit) for edit in filling] == [Span(100, 150)] * 4
    others: tuple[Edit, ...] = (
        AddMarker(100, "look", "why"),
        ClearOurs("cover", ""),
        SetLevelCurve(0, 1, ((0, 0.0),), ""),
    )
    assert [span_of(edit) for edit in others] == [None, None, None]


def test_every_edit_says_why_it_is_made() -> None:
    assert all("reason" in kind.__dataclass_fields__ for kind in EDITS)


def test_keys_that_would_cross_stay_in_order():
    curve = SetLevelCurve(0, 1, ((0, 0.0), (100, -6.0), (101, -7.0), (103, -9.0)), "")
    for by, keys in ((-1, ((0, 0.0), (100, -7.0), (102, -9.0))), (-3, ((0, 0.0), (98, -7.0), (100, -9.0)))):
        moved = moves_of(NudgeJoin(101, (2,), by, 0, "")).edit(curve)
        assert isinstance(moved, SetLevelCurve)
        assert moved.keys == keys
