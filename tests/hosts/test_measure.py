"""Documents of absurd size are refused in one line, before anything walks them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import mltassist
from mltassist.errors import HostileDocument, ProjectError
from mltassist.timeline.edits import AddMarker
from tests.cli.films import LAYOUTS, short, write

HEAD = '<mlt><profile frame_rate_num="25" frame_rate_den="1"/><producer id="p" out="99"/>'


def document(tmp_path: Path, body: str) -> Path:
    path = tmp_path / "film.mlt"
    path.write_text(f"{HEAD}{body}</mlt>")
    return path


def playing(name: str, *others: str) -> str:
    tracks = "".join(f'<track producer="{other}"/>' for other in others)
    return f'<tractor id="{name}">{tracks}</tractor>'


@pytest.mark.parametrize("length", [1, 2, 3000])
def test_a_part_that_plays_itself_is_refused(tmp_path, length):
    ring = "".join(playing(f"t{n}", f"t{(n + 1) % length}") for n in range(length))
    with pytest.raises(ProjectError, match="plays itself"):
        mltassist.open(document(tmp_path, ring))


def test_a_playlist_that_plays_its_own_tractor_is_refused(tmp_path):
    ring = '<playlist id="l"><entry producer="t"/></playlist>' + playing("t", "l")
    project = mltassist.open(document(tmp_path, ring))
    with pytest.raises(ProjectError, match="plays itself"):
        _ = project.timeline


def test_a_playlist_that_plays_itself_is_refused_before_it_is_changed(tmp_path):
    ring = '<playlist id="l"><entry producer="l" in="0" out="9"/></playlist>' + playing("t", "l")
    project = mltassist.open(document(tmp_path, ring))
    with pytest.raises(ProjectError, match="plays itself"):
        project.with_edits([AddMarker(3, "here", "to find it")])


@pytest.mark.parametrize(("levels", "tracks"), [(3000, 1), (40, 2), (20, 3)])
def test_parts_that_nest_without_measure_are_refused(tmp_path, levels, tracks):
    body = playing("t0", "p") + "".join(playing(f"t{n}", *[f"t{n - 1}"] * tracks) for n in range(1, levels))
    with pytest.raises(HostileDocument, match="without measure"):
        mltassist.open(document(tmp_path, body))


def test_parts_may_be_played_more_than_once(tmp_path):
    body = '<playlist id="l"><entry producer="p"/></playlist>' + playing("t0", "l")
    body += '<playlist id="m"><entry producer="t0"/><entry producer="t0"/></playlist>' + playing("t1", "m")
    assert mltassist.open(document(tmp_path, body)).timeline.length == 200


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("text", ["1000000000", "00:00:90000.000", "30:00:00.000"])
def test_a_film_longer_than_a_day_is_refused(tmp_path, layout, text):
    path = write(short(700), tmp_path, layout)
    path.write_text(re.sub(r'(<blank length=")[^"]*', rf"\g<1>{text}", path.read_text(), count=1))
    found = mltassist.open(path)
    with pytest.raises(HostileDocument, match="longer than a day"):
        _ = found.timeline


@pytest.mark.parametrize("layout", LAYOUTS)
def test_clips_of_the_bin_say_no_more_than_a_day(tmp_path, layout):
    path = write(short(700), tmp_path, layout)
    text = re.sub(r'(<property name="length">)[^<]*', r"\g<1>1000000000", path.read_text())
    path.write_text(re.sub(r'(<(?:producer|chain) [^>]*out=")[^"]*', r"\g<1>1000000000", text))
    bin_clips = mltassist.open(path).timeline.bin
    assert bin_clips
    assert max(clip.source.length for clip in bin_clips) <= 25 * 86_400
