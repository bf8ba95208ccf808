"""Numbers and lists that no project has, in the places where hosts keep theirs: read as none of theirs."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from lxml import etree

from mltassist.checking import check
from mltassist.document import properties
from mltassist.hosts.levels import curves
from mltassist.hosts.parts import Parts
from mltassist.hosts.records import read_record
from mltassist.hosts.sources import remap_of, speed_of, stream_of
from mltassist.project import open_project
from tests.hosts.damage import use
from tests.hosts.films import FILM, write_media
from tests.hosts.written import write_generation

NUMBERS = ("²", "1/0", "1e99999999", "-1e99999999", "9" * 5000, "nan", "Infinity", "1_0")


def part(**values: str) -> etree._Element:
    found = etree.Element("chain")
    for name, value in values.items():
        properties.put(found, name, value)
    return found


@pytest.fixture
def parts(tmp_path: Path) -> Parts:
    write_media(tmp_path, FILM.rate)
    return Parts(write_generation("kdenlive 1.1", tmp_path).project().document)


@pytest.mark.parametrize("text", NUMBERS, ids=lambda text: text[:12])
def test_a_number_of_a_source_that_is_none_counts_as_not_given(text: str, parts: Parts) -> None:
    assert speed_of(part(mlt_service="timewarp", warp_speed=text)) == 1
    assert stream_of(part(astream=text, audio_index=text)) == 0
    chain = part()
    link = etree.SubElement(chain, "link")
    properties.put(link, "mlt_service", "timeremap")
    properties.put(link, "time_map", f"0=0;25={text};50=1")
    assert remap_of(parts, chain) == ((0, Fraction(0)), (50, Fraction(25)))


@pytest.mark.parametrize("text", NUMBERS, ids=lambda text: text[:12])
def test_a_level_that_is_no_number_changes_nothing(text: str, parts: Parts) -> None:
    heard = part()
    volume = etree.SubElement(heard, "filter")
    properties.put(volume, "mlt_service", "volume")
    properties.put(volume, "level", f"0=-6;25={text}")
    assert [key.gain_db for (curve,) in [curves(parts, heard, 0)] for key in curve.keys] == [-6.0, 0.0]


@pytest.mark.parametrize("text", ["²", "9" * 5000, "1e99999999"], ids=lambda text: text[:12])
def test_a_track_number_that_is_none_is_no_fault_and_stays(text: str, tmp_path: Path) -> None:
    write_media(tmp_path, FILM.rate)
    path = write_generation("kdenlive 1.1", tmp_path).path
    tree = etree.parse(path)
    transition = next(tree.iter("transition"))
    properties.put(transition, "b_track", text)
    tree.write(path)
    check(open_project(path))
    assert use(path)


@pytest.mark.parametrize(
    "text",
    [
        '{"laid": [["cover", Infinity, 1, "a", 2]]}',
        '{"laid": [["cover", 0, 1, "a", NaN]]}',
        '{"laid": [[["cover"], 0, 1, "a", 2]]}',
        '{"laid": [["cover", "0", 1, "a", 2]]}',
        '{"laid": [["cover", 0.5, 1, "a", 2]]}',
        '{"laid": [], "curves": [[[Infinity, 0]]]}',
        '{"laid": [], "curves": [[["3", 0]]]}',
        '{"laid": [], "curves": [[[3, [0]]]]}',
        '{"laid": [], "curves": 3}',
        '{"laid": 3}',
        "[" * 100_000,
        '{"laid": ' + "[" * 900 + "]" * 900 + "}",
        '{"laid": [["cover", ' + "9" * 5000 + ', 1, "a", 2]]}',
    ],
    ids=lambda text: text[:40],
)
def test_a_record_that_we_cannot_have_written_is_none(text: str) -> None:
    assert not read_record(text).known


def test_times_below_zero_are_played_as_the_engine_plays_them(parts: Parts) -> None:
    """As melt 7 resolved these: it leaves the gaps out, and begins with the first frame of the part."""
    playlist = etree.fromstring(
        '<playlist><entry producer="p" in="0" out="19"/><blank length="-5"/>'
        '<entry producer="p" in="-10" out="19"/><blank length="0"/><entry producer="p" in="30" out="9"/>'
        '<blank length="7"/><entry producer="p" in="3" out="12"/></playlist>'
    )
    parts.by_id["p"] = etree.fromstring('<producer id="p" in="0" out="99"/>')
    spots = [(spot.start, spot.length, spot.first) for spot in parts.spots(playlist) if not spot.is_blank]
    assert spots == [(0, 20, 0), (20, 20, 0), (40, 22, 9), (69, 10, 3)]
