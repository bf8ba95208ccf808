"""What is to be filmed, put together over films, and the sheet that is printed of it."""

from __future__ import annotations

import pytest

from mltassist.errors import OutputError
from mltassist.page.paper import save_sheet, sheet_beside, sheet_html
from mltassist.page.pickups import never_filmed, to_film


def lacking(seconds: float, *subjects: tuple[str, list[str]], cuts: int = 1, words: str = "") -> dict:
    return {
        "at": 25,
        "timecode": "00:00:01:00",
        "seconds": seconds,
        "cuts": [30] * cuts,
        "words": words,
        "subjects": [{"subject": name, "sizes": sizes} for name, sizes in subjects],
    }


WHEEL, GULLS, HANDS = ("wheel", ["CU"]), ("gulls", ["WS"]), ("hands", ["ECU"])
ONE = {
    "pick_ups": [lacking(4, GULLS, WHEEL), lacking(3, ("wheel", ["WS"]), words="It turns <b>."), lacking(2)],
    "unfilmed": [{"word": "flood", "times": 3, "timecode": "00:00:09:00"}],
}
TWO = {
    "pick_ups": [lacking(5, HANDS, WHEEL, cuts=2), lacking(1, GULLS, cuts=0)],
    "unfilmed": [{"word": "flood", "times": 4, "timecode": "00:00:02:00"}],
}
FILMS = [("ep1", ONE), ("ep2", TWO)]


def test_each_place_stands_once_under_what_serves_most_of_them():
    wheel, gulls, anything = to_film(FILMS)
    assert (wheel["subject"], wheel["sizes"], wheel["seconds"]) == ("wheel", ["CU", "WS"], 12)
    assert [(place["film"], place["other"]) for place in wheel["places"]] == [
        ("ep1", ["gulls"]),
        ("ep1", []),
        ("ep2", ["hands"]),
    ]
    assert [place["why"] for place in (wheel["places"][2], *gulls["places"])] == [
        "2 jump cuts are open to the eye",
        "narration without a picture",
    ]
    assert (anything["subject"], anything["seconds"], len(anything["places"])) == ("", 2, 1)
    many = sum(len(figures["pick_ups"]) for _, figures in FILMS)
    assert sum(len(row["places"]) for row in to_film(FILMS)) == many


def test_what_was_never_filmed_is_counted_over_the_films():
    (flood,) = never_filmed(FILMS)
    assert (flood["times"], flood["films"]) == (7, {"ep1": "00:00:09:00", "ep2": "00:00:02:00"})


def test_the_sheet_has_a_box_for_each_subject_and_size_and_obeys_no_name():
    sheet = sheet_html([*FILMS, ("</style><script>alert(1)</script>\x1b\u202e", {"pick_ups": [lacking(1)]})])
    assert sheet.count('class="box large"') == 3
    assert sheet.count('class="box"') == 4  # sizes of the wheel and the gulls, and a word
    assert "It turns &lt;b&gt;." in sheet
    assert "<script" not in sheet
    assert "\x1b" not in sheet
    assert "\u202e" not in sheet


def test_one_of_ours_is_replaced_and_nothing_else(tmp_path):
    page = tmp_path / "season.html"
    target = save_sheet(FILMS, page, tmp_path / "x.mlt")
    assert target == sheet_beside(page) == tmp_path / "season-to-film.html"
    save_sheet(FILMS[:1], page, tmp_path / "x.mlt")
    assert "ep2" not in target.read_text(encoding="utf-8")
    target.write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError):
        save_sheet(FILMS, page, tmp_path / "x.mlt")
    assert target.read_text(encoding="utf-8") == "mine"


def test_a_film_that_lacks_nothing_says_so():
    assert "Nothing is missing" in sheet_html([("ep1", {})])
