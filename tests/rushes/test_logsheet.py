"""Log sheets as text: what is read of them, and what is told of the lines that cannot be read."""

from __future__ import annotations

import csv
import io
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mltassist.errors import TimeError
from mltassist.frames import Rate, Span
from mltassist.rushes.logsheet import frame_of, read_log_sheet, row_span
from mltassist.timeline.log import LogRow

PAL, NTSC = Rate(25), Rate(30000, 1001)
ROWS = (
    ("gulls.mp4", "00:00:01:00", "00:00:04:12", "WS", "gulls/mud banks", "4", "best light; windy"),
    ("wheel, wet", "1.5", "", "", "Wheel|Water", "", 'she says "now"'),
    ("ledger.mp4", "", "", "", "", "0", ""),
)
HEADER = ("file", "in", "out", "size", "subject", "rating", "note")
READ = (
    LogRow(2, "gulls.mp4", "00:00:01:00", "00:00:04:12", "WS", ("gulls", "mud banks"), Fraction(4)),
    LogRow(3, "wheel, wet", "1.5", "", "", ("wheel", "water")),
    LogRow(4, "ledger.mp4", rating=Fraction(0)),
)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_what_the_standard_librarys_writer_writes_is_read(delimiter: str, ends: str) -> None:
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=delimiter, lineterminator=ends)
    writer.writerows((HEADER, *ROWS))
    for whole in (text.getvalue(), "\ufeff" + text.getvalue()):
        sheet = read_log_sheet(whole, PAL)
        assert sheet.problems == ()
        assert sheet.rows == READ


def test_columns_come_in_any_order_and_lines_keep_their_numbers() -> None:
    text = "# rushes of Tuesday\n\n RATING ; Out;IN;File;Extra\n#a;b\n;;;;\n3,5;9,0;2.0;a.mov;x\n\n;;;b.mov\n"
    sheet = read_log_sheet(text, PAL)
    assert sheet.problems == ()
    assert sheet.rows == (LogRow(6, "a.mov", "2.0", "9,0", rating=Fraction(7, 2)), LogRow(8, "b.mov"))


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("a.mov,00:00:01:25,", "line 2: in: '00:00:01:25' is not a timecode at 25 frames"),
        ("a.mov,,00:00:01;20", "line 2: out: '00:00:01;20' is drop-frame timecode"),
        ("a.mov,12,", "line 2: in: '12' is not a timecode (HH:MM:SS:FF); write HH:MM:SS:FF, or seconds"),
        ("a.mov,-1.5,", "line 2: in: '-1.5'"),
        (",1.0,2.0", "line 2: it names no file; write one"),
        ("a.mov,1.0,2.0,CU,x,3,note,with a comma", "line 2: it has more columns than the header"),
        ('"a.mov"x,1.0,2.0', "line 2: its quotes do not pair"),
        ('"a.mov,1.0,2.0', "line 2: its quotes do not pair"),
    ],
)
def test_a_row_that_cannot_be_read_is_told_by_its_line_and_the_others_stay(line: str, told: str) -> None:
    lines = [",".join(HEADER), line, "b.mov,,"]
    sheet = read_log_sheet("\n".join(lines), PAL)
    assert [problem[: len(told)] for problem in sheet.problems] == [told]
    unclosed = line.count('"') == 1
    assert ("nothing below it is read" in sheet.problems[0]) is unclosed
    assert [row.file for row in sheet.rows] == ([] if unclosed else ["b.mov"])


def test_a_size_or_rating_that_is_none_is_passed_over_and_the_row_stays() -> None:
    sheet = read_log_sheet("file,size,rating\na,huge,6\nb,close-up,-1\nc,ecu,good\nd,Wide,5\n", PAL)
    assert [(row.size, row.rating) for row in sheet.rows] == [
        ("", None),
        ("CU", None),
        ("ECU", None),
        ("WS", 5),
    ]
    assert [problem.partition(" is ")[0] for problem in sheet.problems] == [
        "line 2: size 'huge'",
        "line 2: rating '6'",
        "line 3: rating '-1'",
        "line 4: rating 'good'",
    ]


@pytest.mark.parametrize("text", ["", "\n\n", "# file\n", "name,in,out\na,,\n", "\0\n"])
def test_a_sheet_without_files_is_told_once(text: str) -> None:
    sheet = read_log_sheet(text, PAL)
    assert sheet.rows == ()
    assert [problem[:31] for problem in sheet.problems] == ["it has no column named file; wr"]


@settings(max_examples=100, deadline=None)
@given(st.text(alphabet='file,in;out\t"\n\r#:.0159\0é', max_size=60), st.booleans())
def test_no_text_makes_it_fail(text: str, headed: bool) -> None:
    sheet = read_log_sheet(("file,in,out\n" if headed else "") + text, NTSC)
    for row in sheet.rows:
        assert row.file
        frame_of(row.first, NTSC)
        frame_of(row.last, NTSC)


@pytest.mark.parametrize(
    ("cell", "rate", "start", "frame"),
    [
        ("", PAL, "", None),
        ("2.5", PAL, "10:00:00:00", 63),
        ("00:00:02:05", PAL, "", 55),
        ("00:00:02:05", PAL, "10:00:00:00", 55),  # before the file's own start: counted from its first frame
        ("10:00:02:05", PAL, "10:00:00:00", 55),
        ("00:00:02:05", PAL, "00:00:01:00", 30),
        ("01:00:00;00", NTSC, "00:59:00;02", 1798),  # 1800 labels less two that drop-frame leaves out
        ("01:00:00:00", NTSC, "00:59:00;02", 1798),
    ],
)
def test_timecode_counts_from_the_files_own_start_or_its_first_frame(
    cell: str, rate: Rate, start: str, frame: int | None
) -> None:
    assert frame_of(cell, rate, start) == frame


def test_a_moment_lies_in_the_file_and_without_in_and_out_between_its_handles() -> None:
    assert row_span(LogRow(2, "a"), PAL, 225, 13) == Span(13, 212)
    assert row_span(LogRow(2, "a", "0.0", "9.0"), PAL, 225, 13) == Span(0, 225)
    assert row_span(LogRow(2, "a", "", "4.0"), PAL, 225, 13) == Span(13, 100)
    for row, told in (
        (LogRow(2, "a", "4.0", "4.0"), "out is not after its in"),
        (LogRow(2, "a", "4.0", "3.0"), "out is not after its in"),
        (LogRow(2, "a", "8.9", ""), "out is not after its in"),
        (LogRow(2, "a", "1.0", "9.04"), "outside the clip, which is 9.00 s long"),
    ):
        with pytest.raises(TimeError, match=told):
            row_span(row, PAL, 225, 13)
