"""An upright film is covered with upright pictures: frames of the engine, before and after."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

import mltassist
from mltassist.demofilm.film import Rush
from mltassist.timeline.edits import LayShot
from tests import referee
from tests.cli.films import short, write
from tests.cutaways.test_task import moving
from tests.media.films import written

TALL = ("tower WS", "tower CU", "stairs WS", "stairs CU", "mast WS", "mast MS", "rope CU", "ladder MS")
JUMP = 533


def upright(folder: Path, layout: str) -> Path:
    """The short film in a picture of 360 by 640, with upright cutaways, in grey, beside the wide ones."""
    made = short()
    tall = []
    for seed, name in enumerate(TALL):
        written(folder / f"{name}.mkv", moving(225, width=90, height=160, seed=seed))
        rush = Rush(f"{name}.mkv", name, "Cutaways", (), 225, picture=True, sound=False)
        tall.append(rush)
    path = write(replace(made, rushes=(*made.rushes, *tall)), folder, layout)
    tree = etree.parse(path)
    profile = tree.getroot().find("profile")
    for key, value in {
        "width": 360,
        "height": 640,
        "display_aspect_num": 9,
        "display_aspect_den": 16,
    }.items():
        profile.set(key, str(value))
    tree.write(path, encoding="utf-8", xml_declaration=True)
    return path


def saturation(picture: referee.Picture) -> float:
    """How far the colours of a picture are from grey, on average."""
    return float(np.ptp(picture.astype(int), axis=2).mean())


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("layout", ["plain.mlt", "host.kdenlive"])
def test_upright_cutaways_fill_the_picture_of_an_upright_film(tmp_path: Path, layout: str) -> None:
    path = upright(tmp_path, layout)
    project = mltassist.open(path)
    assert (project.timeline.width, project.timeline.height) == (360, 640)
    plan = mltassist.cover(project, no_look=True)
    shots = [edit for edit in plan.edits if isinstance(edit, LayShot)]
    assert {Path(shot.source).suffix for shot in shots} == {".mkv"}
    (over,) = [shot for shot in shots if shot.at <= JUMP < shot.at + shot.length]
    assert any("wide pictures in an upright film" in note.text for note in plan.notes)
    output = path.with_name(f"covered-{layout}")
    plan.apply(project).save(output)
    (before,) = referee.frames(path, [JUMP])
    middle = over.at + over.length // 2
    after = referee.frames(output, [JUMP, middle])
    assert before.shape == (640, 360, 3)
    assert before[:150].max() < 40  # the wide face stands between black bars
    assert saturation(before[250:390]) > 15
    for picture in after:
        assert saturation(picture) < 6
        for rows in (picture[:100], picture[-100:]):
            assert rows.std() > 10  # the shot reaches from edge to edge
            assert rows.mean() > 50
