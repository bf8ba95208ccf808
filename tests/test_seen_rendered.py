"""What a viewer sees after the pass, frame by frame: looks, holes, stretches that stay, a second run.

Every picture of the film tells its clip and frame in a strip of cells, so that a rendered frame says what it
shows.
"""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

import pytest

import mltassist
from mltassist.demofilm import scenario
from mltassist.frames import Span
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.recipe.rules import Recipe, parse_recipe
from tests import referee
from tests.cli.films import short, without_folder, write
from tests.cutaways.test_stable import delete, shots
from tests.strips import read_strip

QUIET = """
[cover]
shot_min_s = 3
shot_ideal_s = 5
shot_max_s = 7
unseen_max_s = 8
reuse_after_s = 120
[[stay]]
at = "f520"
until = "f560"
"""
"""A quiet film with long shots, and a stretch with the jump at 533 in which the face stays."""
STAY, HEAD, LAST = Span(520, 560), 250, 1000
STEP = 8
FILES = {number: file for file, number in scenario.CLIP_NUMBERS.items()}

pytestmark = pytest.mark.usefixtures("requires_melt")


def films(folder: Path, recipe: Recipe) -> tuple[Path, Project, Plan]:
    """The short film without its narration, so that nothing is seen or said at its head; and its cover."""
    path = write(without_folder(short(LAST), "Narration"), folder, "plain.mlt")
    project = mltassist.open(path)
    return path, project, mltassist.cover(project, recipe=recipe, no_look=True)


def seen(document: Path, places: range | list[int]) -> list[str]:
    """What each frame shows: the first folder of its clip's file beneath the media, "" for nothing."""
    return [kind(picture) for picture in referee.frames(document, list(places))]


def kind(picture: referee.Picture) -> str:
    code = read_strip(picture)
    return FILES[code[0]].split("/")[1] if code else ""


def test_a_quiet_film_shows_no_black_and_its_face_in_time(tmp_path: Path) -> None:
    path, project, plan = films(tmp_path, parse_recipe(QUIET))
    output = path.with_name("covered.mlt")
    plan.apply(project).save(output)
    places = range(0, project.timeline.length - 60, STEP)
    before, after = seen(path, places), seen(output, places)
    # Nothing was seen at the head, and a picture is there now.
    hole = [n for n, at in enumerate(places) if before[n] == "" and at < HEAD]
    assert len(hole) > 20
    assert {after[n] for n in hole} == {"cutaways"}
    assert "" not in after
    # The face stays where it was to stay, over a jump that is counted so.
    assert {after[n] for n, at in enumerate(places) if at in STAY} == {"interview"}
    figures = plan.figures
    assert figures["jump_cuts_stay"] == 1
    ways = ("covered_by_editor", "hidden_by_size", "covered", "stay", "left")
    assert figures["jump_cuts"] == sum(figures[f"jump_cuts_{way}"] for way in ways)
    # Nobody is out of sight for longer than the recipe allows.
    spoken = [shown for shown, was in zip(after, before, strict=True) if was == "interview"]
    runs = [len(list(run)) * STEP for shown, run in groupby(spoken) if shown == "cutaways"]
    assert runs
    assert max(runs) <= 8 * 25 + STEP
    assert not [row for row in figures["rules_not_kept"] if row["rule"] == "somebody is seen"]


def test_a_shot_deleted_by_hand_shows_the_face_after_a_second_run(tmp_path: Path) -> None:
    _, project, plan = films(tmp_path, Recipe())
    once = plan.apply(project).save(tmp_path / "once.mlt")
    opened = mltassist.open(once)
    laid = shots(opened)
    gone = next(row for row in laid if row[0] > HEAD + 100)
    delete(opened, gone)
    changed = mltassist.open(opened.save(tmp_path / "changed.mlt"))
    again = mltassist.cover(changed, no_look=True).apply(changed).save(tmp_path / "again.mlt")
    middles = [start + length // 2 for start, length, *_ in laid]
    frames = [referee.frames(document, middles) for document in (once, again)]
    where = laid.index(gone)
    assert {kind(picture) for picture in frames[0]} == {"cutaways"}
    left = ["interview" if n == where else "cutaways" for n in range(len(laid))]
    assert [kind(picture) for picture in frames[1]] == left
    same = [abs(a.astype(int) - b).mean() < 1 for a, b in zip(*frames, strict=True)]
    assert same == [n != where for n in range(len(laid))]
