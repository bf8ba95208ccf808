"""All joins in one file: readable chapters where the joins are, a tone between them."""

from __future__ import annotations

import av
import numpy as np
import pytest

import mltassist
from mltassist.errors import OutputError
from mltassist.media.sound.listening import CHAPTERED, save_chapters
from tests.cli.films import short, write


@pytest.mark.parametrize("ending", CHAPTERED)
def test_chapters_stand_where_their_sounds_are(tmp_path, ending):
    second = np.full((2, 48000), 0.1, np.float32)
    target = tmp_path / f"reel{ending}"
    save_chapters(target, [("one", second), ("", second), ("two, <b>", second)])
    with av.open(str(target)) as file:
        told = [(one["metadata"]["title"], float(one["start"] * one["time_base"])) for one in file.chapters()]
        assert file.duration == pytest.approx(3_000_000, abs=60_000)
    assert [title for title, _ in told] == ["one", "two, <b>"]
    assert [start for _, start in told] == pytest.approx([0, 2], abs=0.01)
    assert [path.name for path in tmp_path.iterdir()] == [target.name]


def test_every_join_is_on_the_reel_with_its_timecode(tmp_path):
    path = write(short(1000), tmp_path, "plain.mlt")
    target = tmp_path / "joins.m4a"
    found = mltassist.listen(mltassist.open(path), reel=target)
    assert len(found.joins) > 3
    with av.open(str(target)) as file:
        titles = [one["metadata"]["title"] for one in file.chapters()]
        sound = np.concatenate([frame.to_ndarray() for frame in file.decode(audio=0)], axis=1)[0]
    assert len(titles) == len(found.joins)
    assert [title.split()[0] for title in titles] == [str(number + 1) for number in range(len(titles))]
    assert titles[0].split()[1].startswith("00:00:")
    # Between the first two there is the tone: 660 Hz, where neither voice nor room is.
    begin = 4 * 48000 + round(0.4 * 48000)
    tone = np.abs(np.fft.rfft(sound[begin : begin + 9600]))
    assert abs(np.argmax(tone) * 5 - 660) <= 10


def test_another_kind_of_file_is_refused_and_nothing_left(tmp_path):
    with pytest.raises(OutputError, match="with chapters"):
        save_chapters(tmp_path / "reel.wav", [("one", np.zeros((1, 480), np.float32))])
    with pytest.raises(OutputError, match="cannot be written"):
        save_chapters(tmp_path / "nowhere" / "reel.m4a", [("one", np.zeros((1, 4800), np.float32))])
    assert list(tmp_path.iterdir()) == []
