"""Where a document says that its film ends: moved with the film, whatever it says."""

from __future__ import annotations

from pathlib import Path

import pytest
from lxml import etree

from mltassist.project import open_project
from mltassist.timeline.edits import OpenPause
from tests import referee
from tests.cli.films import short, write


def outer(path: Path) -> tuple[etree._ElementTree, list[etree._Element]]:
    """The document, and the timeline that wraps its open sequence with its one track."""
    tree = etree.parse(path)
    wraps = tree.xpath("//tractor[property[@name='kdenlive:projectTractor']='1']")
    return tree, [wraps[0], wraps[0].find("track")]


def clock(frame: int) -> str:
    return f"00:{frame // 1500:02}:{frame % 1500 / 25:06.3f}"


@pytest.mark.parametrize("past", [-4, 0, 1, 30_000])
def test_the_outer_timeline_grows_by_what_the_film_grows(tmp_path: Path, past: int) -> None:
    """past: frames by which its end lies after the film's last."""
    path = write(short(400), tmp_path)
    tree, bounds = outer(path)
    for bound in bounds:
        bound.set("out", clock(399 + past))
    tree.write(path)
    made = open_project(path).with_edits([OpenPause(100, 50, "")])
    output = made.save(tmp_path / "longer.kdenlive")
    assert [bound.get("out") for bound in outer(output)[1]] == [clock(449 + past)] * 2


@pytest.mark.usefixtures("requires_melt")
def test_the_engine_plays_to_the_very_end(tmp_path: Path) -> None:
    """One that ended a frame late was not lengthened, and the last two seconds were not rendered."""
    path = write(short(400), tmp_path)
    tree, bounds = outer(path)
    for bound in bounds:
        bound.set("out", clock(400))
    tree.write(path)
    made = open_project(path).with_edits([OpenPause(100, 50, "")])
    output = made.save(tmp_path / "longer.kdenlive")
    sound = referee.sound(output)
    assert sound.shape[1] >= 450 * 1920
    assert abs(sound[:, 449 * 1920 - 9600 : 449 * 1920]).max() > 1e-3
