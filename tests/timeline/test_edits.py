"""Edits that move when time is opened or closed before them."""

from __future__ import annotations

import pytest

from mltassist.frames import Span
from mltassist.timeline.edits import (
    EDITS,
    AddGuide,
    ClearOurs,
    Edit,
    LayNatural,
    LayShot,
    LayUnder,
    OpenPause,
    SetLevelCurve,
    moved,
    span_of,
)

PLACED: tuple[LayShot | LayNatural | LayUnder | OpenPause | AddGuide, ...] = (
    LayShot(100, 50, "/a.mov", 7, "why"),
    LayNatural(100, 50, "/a.mov", 7, "why"),
    LayUnder(100, 50, "/a.mov", 7, "why"),
    OpenPause(100, 50, "why", (3,)),
    AddGuide(100, "look", "why"),
)


@pytest.mark.parametrize("edit", PLACED, ids=lambda edit: type(edit).__name__)
def test_an_edit_moves_when_it_begins_at_or_after_the_place(
    edit: LayShot | LayNatural | LayUnder | OpenPause | AddGuide,
) -> None:
    for place, at in ((99, 110), (100, 110), (101, 100)):
        later = moved(edit, place, 10)
        assert isinstance(later, type(edit))
        assert later.at == at
    assert moved(moved(edit, 100, 10), 110, -10) == edit


def test_the_keys_of_a_curve_move_one_by_one() -> None:
    curve = SetLevelCurve(100, 3, ((100, 0.0), (150, -10.0), (200, 0.0)), "why")
    later = moved(curve, 150, 25)
    assert isinstance(later, SetLevelCurve)
    assert later.at == 100
    assert later.keys == ((100, 0.0), (175, -10.0), (225, 0.0))


def test_what_clears_has_no_place_to_move() -> None:
    clear = ClearOurs("cover", "why")
    assert moved(clear, 0, 10) == clear


def test_the_span_of_an_edit_is_what_it_fills() -> None:
    assert [span_of(edit) for edit in PLACED] == [Span(100, 150)] * 4 + [None]
    others: tuple[Edit, ...] = (ClearOurs("cover", ""), SetLevelCurve(0, 1, ((0, 0.0),), ""))
    assert [span_of(edit) for edit in others] == [None, None]


def test_every_edit_says_why_it_is_made() -> None:
    assert all("reason" in kind.__dataclass_fields__ for kind in EDITS)


def test_keys_that_would_cross_stay_in_order():
    curve = SetLevelCurve(0, 1, ((0, 0.0), (100, -6.0), (101, -7.0), (103, -9.0)), "")
    assert moved(curve, 101, -1).keys == ((0, 0.0), (100, -7.0), (102, -9.0))
    assert moved(curve, 101, -3).keys == ((0, 0.0), (98, -7.0), (100, -9.0))
