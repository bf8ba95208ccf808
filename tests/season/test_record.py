"""What an earlier run finished."""

from __future__ import annotations

import json
import os
from dataclasses import replace

import pytest

import mltassist
from mltassist.errors import OutputError
from mltassist.remembered.contents import contents_of
from mltassist.season.record import NAME, append_line, read_finished
from tests.cli.films import EXAMPLE, short, write


def row(place: str, contents: str = "abc") -> dict[str, object]:
    return {"place": place, "contents": contents, "outcome": {"check": 0}}


def test_lines_are_read_back_and_the_last_of_a_place_holds(tmp_path):
    for contents in ("1", "2"):
        append_line(tmp_path / NAME, row("a/b.mlt", contents))
    append_line(tmp_path / NAME, row("Fähre\n.mlt"))
    found = read_finished(tmp_path)
    assert {place: one.contents for place, one in found.items()} == {"a/b.mlt": "2", "Fähre\n.mlt": "abc"}
    assert read_finished(tmp_path / "none") == {}


@pytest.mark.parametrize(
    "damage", [b'{"place": "x", "con', b"[]", b"\xff\xfe", b"[" * 100_000, b'{"place": 3}']
)
def test_damaged_lines_cost_themselves_alone(tmp_path, damage):
    append_line(tmp_path / NAME, row("a.mlt"))
    with (tmp_path / NAME).open("ab") as file:
        file.write(damage)  # no line end, as a killed run leaves it
    append_line(tmp_path / NAME, row("b.mlt"))
    assert set(read_finished(tmp_path)) == {"a.mlt", "b.mlt"}


@pytest.mark.skipif(os.name != "posix", reason="pipes of posix")
def test_lines_are_added_to_files_alone(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", tmp_path, tmp_path / "none" / "log"):
        with pytest.raises(OutputError):
            append_line(path, {})


def test_a_digest_changes_with_all_that_a_result_is_made_of(tmp_path):
    (tmp_path / "media").mkdir()
    for kind in ("interview", "cutaways", "narration", "natural", "music"):
        (tmp_path / "media" / kind).mkdir()
        for file in (EXAMPLE / "media" / kind).iterdir():
            os.link(file, tmp_path / "media" / kind / file.name)
    path = write(short(700), tmp_path, "plain.mlt")
    rules = mltassist.Recipe()

    def digest(given: object = rules) -> str:
        return contents_of(mltassist.open(path), given, ())

    first = digest()
    seen = {first}
    assert digest() == first
    seen.add(digest(replace(rules, cover=replace(rules.cover, handle_s=rules.cover.handle_s * 2))))
    for name in ("media/interview/ines.mp4", "media/interview/ines.srt", "media/cutaways/wheel-ws.mp4"):
        file = tmp_path / name
        data = file.read_bytes()
        file.unlink()
        seen.add(digest())
        file.write_bytes(data[:-1] + b"?")
        seen.add(digest())
    (tmp_path / "log.csv").write_text("file,rating\nwheel-ws.mp4,5\n")
    seen.add(digest())
    path.write_text(path.read_text() + "\n")
    seen.add(digest())
    assert len(seen) == 10
    json.dumps(sorted(seen))
