"""Animated values, after the behaviour of melt 7.12."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mltassist.document.keyframes import Key, is_animated, key, open_gap, parse, shift, write
from mltassist.document.times import Style
from mltassist.errors import TimeError
from mltassist.frames import Rate

PAL = Rate(25)


def test_holds_curves_and_straight_lines_are_told_apart():
    keys = parse("0=-20;50|=0;80~=-10;90!=1", PAL)
    assert [(k.frame, k.ease, k.value) for k in keys] == [
        (0, "", "-20"), (50, "|", "0"), (80, "~", "-10"), (90, "!", "1"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "0=-20;50|=0;80~=-10",
        "00:00:00.000~=672 859 576 324 1.000000;00:00:01,000=0 0 1 1 1",
        "0=0; 12=1.0;\n 30 = 5",
        "0=0/-440:1920x1080:0;-1=3",
        "00:00:-0.617=4",
        "00:29:53:10|=0",
        "175=0x00000000",
        "10-=5;20a=6;30$=x=y",
        "-20",
        "0=-20;50=0; ",
        "",
    ],
)
def test_parsing_and_writing_changes_nothing(text: str):
    assert write(parse(text, PAL)) == text


def test_a_bare_final_semicolon_adds_no_key_but_a_blank_behind_it_does():
    assert len(parse("0=-20;50=0;", PAL)) == 2
    # The engine takes the blank for a key at frame 0, which destroys the start.
    assert parse("0=-20;50=0; ", PAL)[-1] == Key(0, "", " ", "")


def test_times_are_read_in_every_spelling():
    keys = parse("10=a; 00:00:01.000|=b;00:00:02:00~=c;-1=d;00:00:-0.617=e;30-=f", PAL)
    assert [k.frame for k in keys] == [10, 25, 50, -1, -15, 30]
    assert [k.ease for k in keys] == ["", "|", "~", "", "", "-"]


@pytest.mark.parametrize("text", ["0=1", "-20;5|=3", "00:00:00.000=-27", " 0=1", "-1=4"])
def test_a_value_with_a_time_is_animated(text: str):
    assert is_animated(text)


@pytest.mark.parametrize(
    "text", ["", "-20", "clip.mp4", "0 0 1 1 1", "name=5", "a;b", "http://x/?a=1", "0/0:1x1:1"]
)
def test_a_value_without_a_time_is_not(text: str):
    assert not is_animated(text)


def test_a_broken_key_is_named():
    with pytest.raises(TimeError, match="soon=4"):
        parse("0=1;soon=4", PAL)
    with pytest.raises(TimeError, match="not a time"):
        parse("1:2:3:4:5=4", PAL)


def test_moved_keys_keep_their_spelling_and_the_others_their_text():
    text = "0=-20; 00:00:01.000|=0;\n50~=-10 ;00:00:03,000=x;-1=4;"
    assert shift(text, PAL, 25, 5) == "0=-20; 00:00:01.200|=0;\n55~=-10 ;00:00:03,200=x;-1=4;"
    assert shift(text, PAL, 26, 5) == "0=-20; 00:00:01.000|=0;\n55~=-10 ;00:00:03,200=x;-1=4;"
    assert shift(text, PAL, 500, 5) == text
    assert shift("-20", PAL, 0, 5) == "-20"


def test_no_key_moves_before_the_start_where_it_would_count_from_the_end():
    assert shift("10=1", PAL, 0, -10) == "0=1"
    with pytest.raises(TimeError, match="frame 10"):
        shift("10=1", PAL, 0, -11)


def test_a_new_key_is_written_in_the_wanted_spelling():
    keys = [key(0, "-18", PAL), key(25, "0", PAL, style=Style.CLOCK, ease="|")]
    assert write(keys) == "0=-18;00:00:01.000|=0"
    assert parse(write(keys), PAL) == tuple(keys)


frames = st.lists(st.integers(0, 100_000), min_size=1, max_size=12)


@given(frames, st.sampled_from(Style), st.integers(0, 100_000), st.integers(0, 5000))
def test_shifting_moves_exactly_the_keys_from_the_place_on(places: list[int], style: Style, at: int, by: int):
    rate = Rate(30000, 1001)
    text = write(key(place, str(number), rate, style=style) for number, place in enumerate(places))
    moved = [k.frame for k in parse(shift(text, rate, at, by), rate)]
    assert moved == [place + by if place >= at else place for place in places]
    assert shift(shift(text, rate, at, by), rate, at + by, -by) == text


@pytest.mark.parametrize(
    ("text", "opened"),
    [
        ("0=0;-1=-40", "0=0;49=-19.6;59=-19.6;-1=-40"),  # the last key goes along with the end
        ("0=0;-80=-5;-1=-40", "0=0;21=-5;49=-17.4051;59=-17.4051;-1=-40"),  # one before the gap must not
        ("0|=0;-1=-40;", "0|=0;-1=-40;"),
        ("-1=-40", "-1=-40"),
    ],
)
def test_a_gap_opens_between_keys_that_count_from_the_end(text: str, opened: str):
    assert open_gap(text, PAL, 50, 10, 101) == opened
