"""Frame rates, timecode and spans.

Drop-frame figures: SMPTE ST 12-1. Scan: OpenTimelineIO, an independent implementation.
"""

from fractions import Fraction
from itertools import pairwise

import opentimelineio as otio
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mltassist.errors import TimeError
from mltassist.frames import (
    Rate,
    Span,
    format_timecode,
    joined,
    parse_place,
    parse_timecode,
    round_half_up,
    shared,
    without,
)

PAL, NTSC, NTSC60 = Rate(25), Rate(30000, 1001), Rate(60000, 1001)
RATES = [PAL, NTSC, NTSC60, Rate(24000, 1001), Rate(24), Rate(50), Rate(100, 3), Rate(33570000, 1119679)]

SMPTE_29_97 = {
    0: "00:00:00;00",
    1799: "00:00:59;29",
    1800: "00:01:00;02",
    3597: "00:01:59;29",
    3598: "00:02:00;02",
    17981: "00:09:59;29",
    17982: "00:10:00;00",
    19781: "00:10:59;29",
    19782: "00:11:00;02",
    53946: "00:30:00;00",
    107891: "00:59:59;29",
    107892: "01:00:00;00",
    1078920: "10:00:00;00",
    2589407: "23:59:59;29",
}
SMPTE_59_94 = {
    3599: "00:00:59;59",
    3600: "00:01:00;04",
    35963: "00:09:59;59",
    35964: "00:10:00;00",
    215784: "01:00:00;00",
}
LABELS = [(NTSC, *item) for item in SMPTE_29_97.items()] + [(NTSC60, *item) for item in SMPTE_59_94.items()]


@pytest.mark.parametrize(("rate", "frame", "label"), LABELS)
def test_drop_frame_labels_are_those_of_smpte_st_12_1_both_ways(rate: Rate, frame: int, label: str):
    assert format_timecode(frame, rate) == label
    assert parse_timecode(label, rate) == frame


@pytest.mark.parametrize("rate", [NTSC, NTSC60])
def test_drop_frame_agrees_with_opentimelineio_over_a_day(rate: Rate):
    fps = rate.numerator / rate.denominator
    day = 24 * 6 * (rate.nominal * 600 - 9 * rate.drops)
    frames = range(0, day, 97)
    theirs = [otio.opentime.to_timecode(otio.opentime.RationalTime(n, fps), fps, True) for n in frames]
    assert [format_timecode(frame, rate) for frame in frames] == theirs
    assert [parse_timecode(label, rate) for label in theirs] == list(frames)


@pytest.mark.parametrize("label", ["00:01:00;00", "00:01:00;01", "00:59:00;00", "23:59:00;01"])
def test_labels_that_drop_frame_leaves_out_are_refused(label: str):
    with pytest.raises(TimeError, match="leaves that label out"):
        parse_timecode(label, NTSC)


@pytest.mark.parametrize("label", ["00:01:00;00", "00:01:00;03"])
def test_four_labels_are_left_out_at_59_94(label: str):
    with pytest.raises(TimeError, match="leaves that label out"):
        parse_timecode(label, NTSC60)


@pytest.mark.parametrize(
    "label",
    ["00:60:00:00", "00:00:60:00", "00:00:00:25", "1:00:00", "00:00:00;00", "", "soon", "-1:00:00:00"],
)
def test_labels_out_of_range_are_refused(label: str):
    with pytest.raises(TimeError):
        parse_timecode(label, PAL)


def test_drop_frame_is_refused_where_the_rate_has_none():
    with pytest.raises(TimeError, match="drop-frame"):
        format_timecode(0, PAL, drop=True)


def test_an_hour_of_drop_frame_is_an_hour_of_time_but_for_3_6_milliseconds():
    assert NTSC.seconds(107892) == Fraction(35999964, 10000)
    assert parse_timecode("01:00:00:00", NTSC) - parse_timecode("01:00:00;00", NTSC) == 108


@pytest.mark.parametrize("rate", RATES)
@given(frame=st.integers(0, 3_000_000), drop=st.booleans())
def test_a_label_leads_back_to_its_frame(rate: Rate, frame: int, drop: bool):
    label = format_timecode(frame, rate, drop=drop and rate.drops > 0)
    assert parse_timecode(label, rate) == frame


def test_a_negative_frame_keeps_its_sign():
    assert format_timecode(-30, PAL) == "-00:00:01:05"


# --- rates --------------------------------------------------------------------------------------


def test_a_rate_is_reduced_and_must_be_positive():
    assert Rate(60000000, 1000000) == Rate(60)
    for numerator, denominator in ((0, 1), (25, 0), (-25, 1), (25, -1)):
        with pytest.raises(TimeError, match="impossible"):
            Rate(numerator, denominator)


def test_half_a_frame_goes_up():
    assert [round_half_up(Fraction(n, 2)) for n in (-3, -1, 1, 3)] == [-1, 0, 1, 2]
    assert PAL.frames("0.02") == 1
    assert PAL.frames("0,019") == 0


@pytest.mark.parametrize("text", ["", "x", "1e999999999", "1/0", "nan", "inf", "1_0", "1/3"])
def test_what_is_not_a_plain_decimal_is_not_a_number_of_seconds(text: str):
    with pytest.raises(TimeError, match="number of seconds"):
        PAL.frames(text)


@pytest.mark.parametrize("rate", RATES)
@given(frame=st.integers(0, 2_000_000))
def test_a_frame_survives_seconds_and_samples(rate: Rate, frame: int):
    assert rate.frames(rate.seconds(frame)) == frame
    first = rate.samples(frame, 48000)
    assert rate.frame_at_sample(first, 48000) == frame
    assert rate.frame_at_sample(rate.samples(frame + 1, 48000) - 1, 48000) == frame


def test_samples_are_those_the_engine_writes():
    # melt 7.12 wrote 4321117 samples for 2698 frames at 30000/1001.
    assert NTSC.samples(2698, 48000) == 4321117
    assert PAL.samples(1, 48000) == 1920


# --- places -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "frame"),
    [
        ("f1234", 1234),
        ("00:01:00:00", 1500),
        ("1:30", 2250),
        (" 01:30.5 ", 2263),
        ("1:00:00", 90000),
        ("0:01,04", 26),
        ("90:00", 135000),
        ("The bridge", None),
        ("12", None),
        ("f", None),
    ],
)
def test_a_place_is_read_as_editors_type_it(text: str, frame: int | None):
    assert parse_place(text, PAL) == frame


@pytest.mark.parametrize("text", ["1:75", "1:60:00", "00:00:00:99", "00:00:00;01"])
def test_a_place_with_a_field_out_of_range_is_refused(text: str):
    with pytest.raises(TimeError):
        parse_place(text, PAL)


# --- spans --------------------------------------------------------------------------------------

spans = st.builds(Span, st.integers(-30, 60), st.integers(-30, 60))
lists = st.lists(spans, max_size=8)


def frames_of(many: list[Span] | tuple[Span, ...]) -> set[int]:
    return {frame for span in many for frame in range(span.start, span.end)}


def separate(many: tuple[Span, ...]) -> bool:
    apart = all(left.end < right.start for left, right in pairwise(many))
    return apart and all(span.length > 0 for span in many)


@given(lists)
def test_the_union_has_every_frame_once(some: list[Span]):
    assert frames_of(joined(some)) == frames_of(some)
    assert separate(joined(some))
    assert joined(joined(some)) == joined(some)


@given(lists, st.integers(0, 10))
def test_bridging_closes_exactly_the_short_gaps(some: list[Span], bridge: int):
    result = joined(some, bridge)
    plain = joined(some)
    gaps = [Span(left.end, right.start) for left, right in pairwise(plain)]
    closed = [gap for gap in gaps if gap.length <= bridge]
    assert frames_of(result) == frames_of(plain) | frames_of(closed)


@given(lists, lists)
def test_what_is_without_and_what_is_shared_make_up_the_whole(some: list[Span], others: list[Span]):
    assert frames_of(without(some, others)) == frames_of(some) - frames_of(others)
    assert frames_of(shared(some, others)) == frames_of(some) & frames_of(others)
    assert separate(shared(some, others))
    assert shared(some, others) == shared(others, some)


@given(spans, spans)
def test_two_spans_overlap_when_they_share_a_frame(one: Span, other: Span):
    common = frames_of([one]) & frames_of([other])
    assert frames_of([one.shared(other)]) == common
    if one.length > 0 and other.length > 0:
        assert one.overlaps(other) == bool(common)
        assert one.covers(other) == (common == frames_of([other]))


def test_spans_are_half_open():
    # OpenTimelineIO: in 0, out 99 inclusive is 100 frames; ranges that touch do not overlap.
    inclusive = otio.opentime.TimeRange.range_from_start_end_time_inclusive(
        otio.opentime.RationalTime(0, 25), otio.opentime.RationalTime(99, 25)
    )
    assert Span(0, 100).length == inclusive.duration.value == 100
    assert not Span(0, 100).overlaps(Span(100, 200))
    assert 99 in Span(0, 100)
    assert 100 not in Span(0, 100)
    assert Span(0, 100).shifted(5).grown(2, 3) == Span(3, 108)
