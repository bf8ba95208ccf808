"""Lines of subtitles that move with a film."""

from __future__ import annotations

import pytest

from mltassist.hosts.subtitles import moved

LINE = "1\n00:00:{first} --> 00:00:{last}\nthe wheel\n"


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
    text = moved(LINE.format(first=first, last=last), start_ms=1000, shift_ms=500)
    assert "00:00:{} --> 00:00:{}".format(*after) in text
