"""Lines of subtitles that move with a film, and all that must not."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pysubs2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mltassist.errors import OutputError
from mltassist.hosts.subtitletimes import moved
from mltassist.project import open_project
from mltassist.timeline.edits import OpenPause
from tests.hosts.written import write_feature

LINE = "1\n00:00:{first} --> 00:00:{last}\nthe wheel\n"


def later(since_ms: int, by_ms: int) -> Callable[[int], int]:
    """What lies at a time or after it moves."""
    return lambda at_ms: by_ms if at_ms >= since_ms else 0


@pytest.mark.parametrize(
    ("first", "last", "after"),
    [
        (
            "01,000",
            "02,000",
            ("01,500", "02,500"),
        ),  # it begins where the film grows: it is later
        ("00,999", "02,000", ("00,999", "02,500")),
        ("00,500", "01,001", ("00,500", "01,501")),
        ("00,500", "01,000", ("00,500", "01,000")),  # it has ended by then
    ],
)
def test_a_line_moves_from_the_very_time_on_and_one_across_it_stays_longer(
    first: str, last: str, after: tuple[str, str]
) -> None:
    text = moved(LINE.format(first=first, last=last), later(1000, 500))
    assert "00:00:{} --> 00:00:{}".format(*after) in text


SRT = (
    "\ufeff1\r\n00:00:01,000 --> 00:00:02,500  X1:40 X2:600\r\n{\\an8}<i>up here</i>\r\n\r\n"
    "7\r\n0:00:59,5 --> 00:01:02.25\r\nnumbers stay\r\n"
)
VTT = """WEBVTT - kept

STYLE
::cue { color: lime }

NOTE 00:00:09.000 is no cue

REGION
id:low

intro
00:01.000 --> 00:02.500 align:start line:0%
<v Ines>We mend <00:01.400>the nets

1:00:59.900 --> 1:01:02.000
late
"""
ASS = """[Script Info]
; Dialogue: 0,0:00:05.00,0:00:06.00,no event
ScriptType: v4.00+

[Editor's own]
Dialogue: 0,0:00:05.00,0:00:06.00,Default,,0,0,0,,not ours

[V4+ Styles]
Format: Name, Fontname
Style: Default,Sans

[Events]
Format: Layer, Start, End, Style, Name, MarginL, MarginR, MarginV, Effect, Text
Comment: 0,0:00:01.00,0:00:02.00,Default,,0,0,0,,at 0:00:01.00
Dialogue: 0, 0:00:01.00 ,0:00:02.50,Default,Ines,0,0,0,,{\\an8\\t(0,500)}a, b, 0:00:01.00
Dialogue: 0,0:59:59.99,1:00:00.00,Default,,0,0,0,,{\\k20}late
"""


@pytest.mark.parametrize(
    ("text", "changes"),
    [
        (SRT, {"0:00:59,5": "0:01:01,0", "00:01:02.25": "00:01:03.75"}),
        (
            VTT,
            {
                "00:02.500": "00:04.000",
                "<00:01.400>": "<00:02.900>",
                "1:00:59.900": "1:01:01.400",
                "1:01:02.000": "1:01:03.500",
            },
        ),
        (
            ASS,
            {
                "0:00:02.50": "0:00:04.00",
                "0:00:02.00": "0:00:03.50",
                "0:59:59.99": "1:00:01.49",
                "1:00:00.00": "1:00:01.50",
            },
        ),
    ],
)
def test_only_times_change(text: str, changes: dict[str, str]) -> None:
    """One subtitle lies across the place: its first time stays, and its last one moves."""
    at = 1200
    expected = re.sub("|".join(map(re.escape, changes)), lambda found: changes[found[0]], text)
    if text is SRT:
        expected = expected.replace("00:00:02,500", "00:00:04,000")
    assert moved(text, later(at, 1500)) == expected
    assert moved(text, later(10**8, 1500)) == text
    for back in (moved(moved(text, later(0, 1500)), later(0, -1500)), moved(text, later(0, 0))):
        assert back == text


@given(
    kind=st.sampled_from(["srt", "ass", "vtt"]),
    lines=st.lists(st.tuples(st.integers(0, 10**6), st.integers(10, 9000)), min_size=1, max_size=5),
    at=st.integers(0, 10**6),
    by=st.integers(-500, 5000),
    end=st.sampled_from(["\n", "\r\n"]),
)
def test_times_are_those_that_the_library_reads(
    kind: str, lines: list[tuple[int, int]], at: int, by: int, end: str
) -> None:
    """The outside reader is pysubs2."""
    file = pysubs2.SSAFile()
    file.events = [pysubs2.SSAEvent(start=a * 10, end=(a + n) * 10, text="a, b") for a, n in lines]
    text = file.to_string(kind).replace("\n", end)
    found = pysubs2.SSAFile.from_string(moved(text, later(at, by * 10)))
    for old, new in zip(pysubs2.SSAFile.from_string(text), found, strict=True):
        moves = old.start >= at
        assert new.start == max(0, old.start + by * 10 * moves)
        assert new.end == max(new.start, old.end + by * 10 * (moves or old.end > at))
        assert new.text == old.text


@pytest.mark.parametrize("text", ["", "no subtitles", "{1}{20}frames", "1\n00:99 --> nowhere\n"])
def test_what_has_no_known_times_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="subtitles"):
        moved(text, later(0, 500))


@pytest.mark.parametrize(
    "name", ["../elsewhere/film.sh", "film.exe", "/abs/film.ass", "a/../film.kdenlive.ass"]
)
def test_a_file_of_ours_lies_beside_the_project_whatever_the_document_calls_it(
    tmp_path: Path, name: str
) -> None:
    (tmp_path / "film").mkdir()
    path = write_feature("kdenlive 1.1 subtitles", tmp_path / "film")
    side = path.with_name("film.kdenlive.ass")
    named = str(tmp_path / name.lstrip("/")) if name.startswith("/") else name
    place = (path.parent / named).resolve()
    place.parent.mkdir(parents=True, exist_ok=True)
    (path.parent / "a").mkdir(exist_ok=True)
    data = side.read_bytes().replace(b"\n", b"\r\n")
    side.unlink()
    place.write_bytes(data)
    path.write_text(
        path.read_text(encoding="utf-8").replace("film.kdenlive.ass", json.dumps(named)[1:-1]), "utf-8"
    )
    out = tmp_path / "out"
    out.mkdir()
    made = open_project(path).with_edits([OpenPause(10, 50, "")])
    target = made.save(out / "new.kdenlive")
    assert {file.name for file in out.iterdir()} == {"new.kdenlive", "new.kdenlive.ass"}
    written = (out / "new.kdenlive.ass").read_bytes()
    assert written == data.replace(b"0:00:01.00,0:00:02.50", b"0:00:03.00,0:00:04.50")
    assert place.read_bytes() == data
    assert open_project(target).timeline.subtitles == (out / "new.kdenlive.ass",)
    with pytest.raises(OutputError, match="exists already"):
        made.save(out / "new.kdenlive")
