"""Tables of a pass on a terminal of 80 columns and on a wide one."""

from __future__ import annotations

from io import StringIO

import pytest
from rich.console import Console
from rich.table import Table

from mltassist.cli.screen import _number
from mltassist.cli.wording import passage_table, shot_table
from mltassist.frames import Rate

PASSAGES = [
    {
        "timecode": f"00:0{number}:11:23",
        "length": 840,
        "kind": "natural sound" if number == 1 else "speech",
        "loudest": "" if number == 2 else "natural sound",
        "beneath": [{"sound": "natural sound", "depth_db": -19.5}],
        "separation_before_lu": None if number == 2 else -14.5,
        "separation_after_lu": None if number == 2 else 15.0,
        "words_before": None if number == 1 else 0.46,
        "words_after": None if number == 1 else 0.96,
        "music_up": f"00:0{number}:32:07",
    }
    for number in range(4)
]
SHOTS = [
    {
        "timecode": f"00:0{number}:05:20",
        "seconds": 5.86,
        "clip": "rising tide WS",
        "said": "For three hundred years a mill has stood here, and waited for the water to come",
        "why": "covers a jump cut; 'rising' is said",
    }
    for number in range(3)
]


def lines(table: Table, width: int) -> list[str]:
    written = StringIO()
    Console(file=written, width=width, highlight=False).print(table)
    return [line.rstrip() for line in written.getvalue().splitlines()]


@pytest.mark.parametrize("width", [80, 120])
def test_no_timecode_and_no_figure_is_cut_off(width: int) -> None:
    told = lines(passage_table(PASSAGES, Rate(25), width), width)
    assert max(map(len, told)) <= width
    assert "…" not in "".join(told)
    rows = [line for line in told if line.startswith("00:")]
    assert [line.split()[-1] for line in rows] == [row["music_up"] for row in PASSAGES]
    assert "-14.5 to 15.0 LU" in rows[0]
    assert ("33.6 s" in rows[0]) == ("0.46 to 0.96" in rows[0]) == (width == 120)


@pytest.mark.parametrize("width", [80, 120])
def test_a_shot_is_told_in_one_line_with_its_whole_reason(width: int) -> None:
    told = lines(shot_table(SHOTS, width), width)
    assert len(told) == 1 + len(SHOTS)
    assert max(map(len, told)) <= width
    assert all(line.endswith("a jump cut; 'rising'") for line in told[1:])


def test_no_figure_is_less_than_nothing() -> None:
    told = [_number(value, "+.1f", "dB") for value in (-0.04, 0.04, -0.06, 1.0, float("nan"))]
    assert told == ["0.0 dB", "0.0 dB", "-0.1 dB", "+1.0 dB", "-"]
