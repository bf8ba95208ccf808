"""Paths in tables."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from mltassist.cli.parted import Parted
from mltassist.cli.rows import Rows

LONG = "/media/reels of Saltreed/season one/episode-01-the-wheel-that-waits/film-rough.kdenlive"


def lines(text: str, width: int) -> list[str]:
    told = io.StringIO()
    table = Rows("result", box=None, pad_edge=False, show_header=False)
    table.add_row(Parted(text))
    Console(file=told, width=width, color_system=None).print(table)
    return [line.strip() for line in told.getvalue().splitlines()]


def test_a_line_of_a_path_ends_where_a_folder_does():
    assert lines(LONG, 200) == [LONG]
    assert lines(LONG, 45) == [
        "/media/reels of Saltreed/season one/",
        "episode-01-the-wheel-that-waits/",
        "film-rough.kdenlive",
    ]
    assert lines("C:\\\\reels\\season one\\film.mlt", 12) == ["C:\\\\reels\\", "season one\\", "film.mlt"]


@pytest.mark.parametrize("width", [1, 7, 10, 20])
def test_nothing_of_a_path_is_lost_in_a_narrow_column(width):
    found = lines(LONG, width)
    assert "".join(found).replace(" ", "") == LONG.replace(" ", "")
    assert max(map(len, found)) <= width


def test_a_folder_wider_than_the_column_is_parted_after_a_mark():
    assert lines("episode-01-the-wheel", 12) == ["episode-01-", "the-wheel"]


def test_words_are_kept_and_controls_are_shown():
    assert lines("failed: no such file; check the name", 20) == ["failed: no such", "file; check the name"]
    assert "\x1b" not in "".join(lines("ep\x1b[31m/film.mlt", 40))
    assert lines("", 10) == [""]
