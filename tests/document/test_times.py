"""Times of a document. The figures were measured against melt 7.12 (`-consumer xml`)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mltassist.document.times import Style, clock, parse, style_of, write
from mltassist.errors import TimeError
from mltassist.frames import Rate

PAL, NTSC, THIRD = Rate(25), Rate(30000, 1001), Rate(100, 3)
RATES = [
    PAL, NTSC, THIRD, Rate(24), Rate(24000, 1001), Rate(50), Rate(60000, 1001), Rate(12), Rate(1), Rate(1, 7),
    Rate(33570000, 1119679), Rate(15600000, 514799), Rate(70, 3), Rate(1000, 33), Rate(240), Rate(1000),
    Rate(48000),
]  # fmt: skip

# (rate, text, frames): each the length of a <blank> or out of a filter in the engine's own output.
MEASURED = [
    (PAL, "242", 242), (PAL, "-5", -5), (PAL, " 17 ", 17), (PAL, "1.5", 1), (PAL, "0.5", 0),
    (PAL, "00:00:01.019", 25), (PAL, "00:00:01.020", 26), (PAL, "00:00:01.5", 38), (PAL, "00:00:75.5", 1888),
    # Exactly between two frames: to the even one, unless the binary product falls short of the half.
    (PAL, "00:00:00.500", 12), (PAL, "00:00:02.500", 62), (PAL, "00:00:00.020", 0), (PAL, "00:00:00.100", 2),
    (PAL, "00:16:04.060", 24101), (PAL, "00:51:05.020", 76625), (PAL, "00:46:36.020", 69901),
    (PAL, "01:02.5", 1562), (PAL, "1:00:00.000", 90000), (PAL, "03:60:00.000", 360000),
    (PAL, "00:00:01.", 25),
    (PAL, "00:00:-0.617", -15), (PAL, "00:01:-0.617", 1485), (PAL, "-00:00:01.000", 25),
    # No fraction: the last field is frames, whatever the look.
    (PAL, "00:00:04", 4), (PAL, "04:05", 105), (PAL, "04:00:00", 6000), (PAL, "04:00:00.000", 360000),
    (PAL, "00:00:01:05", 30), (PAL, "00:00:01;05", 30), (PAL, "00:00:00:40", 40), (PAL, "00:10:00;02", 15002),
    (NTSC, "00:00:01.000", 30), (NTSC, "00:00:01.018", 31), (NTSC, "00:00:03.337", 100),
    (NTSC, "00:00:00.500", 15), (NTSC, "00:00:90.000", 2697), (NTSC, "00:01:00:00", 1798),
    (NTSC, "00:00:01:00", 30), (NTSC, "00:10:00;02", 17984), (NTSC, "00:13:48.982", 24844),
    (NTSC, "1:00:00.000", 107892), (NTSC, "01:02.5", 1873),
    (THIRD, "09:08:30.495", 1097017), (THIRD, "01:15:54;11", 151812), (THIRD, "01:51:11.715", 222390),
]  # fmt: skip


@pytest.mark.parametrize(("rate", "text", "frames"), MEASURED)
def test_a_time_is_read_as_the_engine_reads_it(rate: Rate, text: str, frames: int):
    assert parse(text, rate) == frames


def test_a_decimal_comma_reads_like_a_point():
    assert parse("00:00:09,367", NTSC) == parse("00:00:09.367", NTSC) == 281


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "x",
        "1:2:3:4:5",
        "00:00:0x.5",
        "12abc",
        "1e2",
        "::",
        "nan",
        "9" * 40,
        "1:-",
        "00:00:.5.",
    ],
)
def test_what_is_no_time_is_refused(text: str):
    with pytest.raises(TimeError, match="not a time"):
        parse(text, PAL)


@pytest.mark.parametrize("rate", RATES)
@given(hours=st.integers(0, 10), seconds=st.floats(0, 1), comma=st.booleans())
def test_a_written_clock_leads_back_to_its_frame(rate: Rate, hours: int, seconds: float, comma: bool):
    frame = int(float(rate.fraction) * 3600 * (hours + seconds))
    text = clock(frame, rate, comma=comma)
    assert parse(text, rate) == frame
    assert ("," in text) is comma


@pytest.mark.parametrize("rate", RATES)
def test_every_frame_around_each_minute_mark_survives_a_clock(rate: Rate):
    for minute in (0, 1, 2, 10, 59, 60, 61, 119, 600):
        middle = int(minute * 60 * rate.fraction)
        for frame in range(max(0, middle - 3), middle + 4):
            assert parse(clock(frame, rate), rate) == frame


@pytest.mark.parametrize("rate", RATES)
@given(frame=st.integers(-5000, -1))
def test_a_negative_frame_survives_a_clock(rate: Rate, frame: int):
    assert parse(clock(frame, rate), rate) == frame


def test_milliseconds_suffice_at_any_picture_rate():
    assert clock(24844, NTSC) == "00:13:48.982"
    assert clock(12, PAL, comma=True) == "00:00:00,480"
    assert clock(90025, PAL) == "01:00:01.000"
    assert clock(-15, PAL) == "00:00:-0.600"
    assert len(clock(5, Rate(48000))) > len("00:00:00.000")


@pytest.mark.parametrize(
    ("text", "style", "again"),
    [
        ("242", Style.FRAMES, "242"),
        ("00:00:09.680", Style.CLOCK, "00:00:09.680"),
        ("00:00:09,680", Style.CLOCK_COMMA, "00:00:09,680"),
        ("00:00:09:17", Style.CLOCK, "00:00:09.680"),
    ],
)
def test_a_time_is_rewritten_in_the_document_s_own_spelling(text: str, style: Style, again: str):
    assert style_of(text) is style
    assert write(parse(text, PAL), PAL, style) == again
