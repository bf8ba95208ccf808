"""The demonstration film, written by its command."""

from __future__ import annotations

from pathlib import PurePosixPath

import av
import pytest

from mltassist.demofilm.scenario import CLIP_NUMBERS, rushes
from mltassist.demofilm.strip import read_strip
from tests.cli.films import DOCUMENTS, EXAMPLE


def test_a_folder_that_holds_something_is_left_alone(tmp_path, run):
    mine = tmp_path / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    assert "not empty" in run("demo", tmp_path).refused()
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
    assert str(mine) in run("demo", mine).refused()
    assert mine.read_text(encoding="utf-8") == "mine"


@pytest.mark.slow
def test_the_demonstration_film_is_the_example_film(tmp_path, run):
    folder = tmp_path / "new" / "demo"
    ran = run("demo", folder)
    assert ran.status == 0
    assert ran.out.splitlines() == [str(folder / name) for name in DOCUMENTS]
    for name in DOCUMENTS:
        assert (folder / name).read_bytes() == (EXAMPLE / name).read_bytes()
    written = {path.relative_to(folder).as_posix() for path in (folder / "media").rglob("*.*")}
    voices = {rush.file for rush in rushes() if rush.folder in ("Interviews", "Narration")}
    transcripts = {str(PurePosixPath(file).with_suffix(".srt")) for file in voices}
    assert written == {rush.file for rush in rushes()} | transcripts
    for name in transcripts:
        assert (folder / name).read_bytes() == (EXAMPLE / name).read_bytes()
    for rush in rushes():
        if not rush.picture:
            continue
        with av.open(str(folder / rush.file)) as container:
            assert container.streams.video[0].frames == rush.length
            for number, frame in enumerate(container.decode(video=0)):
                assert read_strip(frame.to_ndarray(format="rgb24")) == (CLIP_NUMBERS[rush.file], number)
                if number == 30:
                    break
