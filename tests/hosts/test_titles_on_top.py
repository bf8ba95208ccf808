"""Cover lies above what it covers and below all that is read: frames of the engine, in three layouts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest
from lxml import etree

import mltassist
from mltassist.checking import check
from mltassist.demofilm.film import Lane, Placement, Rush
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.recipe.cover import CoverRules
from mltassist.recipe.rules import Recipe
from mltassist.timeline.edits import AddTrack, LayShot
from tests import referee
from tests.cli.films import LAYOUTS, short, write

JUMP, NAME = 533, "name.png"
BLOCK = np.s_[300:340, 40:120]
"""Where the caption is opaque, in a picture of 640 by 360."""
MAGENTA = np.array([255, 0, 255])


def captioned(folder: Path, layout: str, *, start: int = 500, length: int = 90) -> Path:
    """The short film with a transparent still over the jump in a face."""
    pixels = np.zeros((360, 640, 4), np.uint8)
    pixels[BLOCK] = (*MAGENTA, 255)
    with av.open(str(folder / NAME), "w", format="image2") as out:
        stream = out.add_stream("png", rate=1)
        stream.width, stream.height, stream.pix_fmt = 640, 360, "rgba"
        out.mux(stream.encode(av.VideoFrame.from_ndarray(pixels, format="rgba")))
        out.mux(stream.encode(None))
    made = short()
    rush = Rush(NAME, "Ines Moor", "Titles", (), 250, picture=True, sound=False)
    lane = Lane("Titles", picture=True, sound=False, placements=(Placement(NAME, start, 0, length),))
    below = [one for one in made.lanes if one.picture]
    lanes = (*below, lane, *(one for one in made.lanes if not one.picture))
    path = write(replace(made, rushes=(*made.rushes, rush), lanes=lanes), folder, layout)
    tree = etree.parse(path)
    for part in tree.getroot().iterchildren("producer", "chain"):
        values = {value.get("name"): value for value in part.iterchildren("property")}
        if "resource" in values and (values["resource"].text or "").endswith(NAME):
            part.tag = "producer"
            values["mlt_service"].text = "qimage"
    tree.write(path, encoding="utf-8", xml_declaration=True)
    return path


def covered(project: Project, captions: str) -> Plan:
    rules = CoverRules(captions=captions)  # type: ignore[arg-type]
    return mltassist.cover(project, recipe=Recipe(cover=rules), no_look=True)


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_caption_is_read_above_the_cover(tmp_path: Path, layout: str) -> None:
    path = captioned(tmp_path, layout)
    project = mltassist.open(path)
    titles = next(track for track in project.timeline.tracks if track.name == "Titles")
    plan = covered(project, "cover beneath")
    (place,) = [edit for edit in plan.edits if isinstance(edit, AddTrack)]
    assert any(e.at <= JUMP < e.at + e.length for e in plan.edits if isinstance(e, LayShot))
    after = plan.apply(project)
    assert check(after, original=project) == ()
    by_name = {track.name: track.index for track in after.timeline.tracks}
    assert by_name["Titles"] == titles.index + 1
    assert place.above < by_name["Cover (mltassist)"] < by_name["Titles"]
    output = tmp_path / f"out-{layout}"
    after.save(output)
    old, new = (referee.frame(one, JUMP) for one in (path, output))
    for picture in (old, new):
        assert np.abs(picture[310:330, 50:110].astype(int) - MAGENTA).max() < 40
    assert np.abs(old[:200].astype(int) - new[:200]).mean() > 10
    # A second run finds its own track beneath the caption, and leaves it there.
    again = covered(mltassist.open(output), "cover beneath")
    assert not any(isinstance(edit, AddTrack) for edit in again.edits)
    assert again.apply(mltassist.open(output)).timeline.tracks == after.timeline.tracks


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_face_stays_beneath_its_name(tmp_path: Path, layout: str) -> None:
    path = captioned(tmp_path, layout)
    project = mltassist.open(path)
    plan = covered(project, "stay")
    assert not any(e.at < 590 and e.at + e.length > 500 for e in plan.edits if isinstance(e, LayShot))
    assert plan.figures["jump_cuts_stay"] == 1
    assert [note.at for note in plan.notes if "beneath the caption" in note.text] == [JUMP]
    output = tmp_path / f"out-{layout}"
    plan.apply(project).save(output)
    old, new = (referee.frame(one, JUMP) for one in (path, output))
    assert np.abs(old.astype(int) - new).max() <= 2
    assert sum(isinstance(edit, LayShot) for edit in plan.edits) > 2


def test_shots_left_out_of_a_plan_keep_the_place_of_their_track(tmp_path: Path) -> None:
    project = mltassist.open(captioned(tmp_path, "host.kdenlive"))
    plan = covered(project, "cover beneath")
    last = [edit for edit in plan.edits if isinstance(edit, LayShot)][-1]
    kept = plan.keep(lambda edit: edit == last)
    assert [type(edit).__name__ for edit in kept.edits] == ["AddTrack", "LayShot"]
    names = [track.name for track in kept.apply(project).timeline.tracks]
    assert names.index("Cover (mltassist)") < names.index("Titles")
    assert plan.keep(lambda edit: not isinstance(edit, LayShot | AddTrack)).apply(
        project
    ).timeline.tracks == (project.timeline.tracks)
