"""Cutaways without names are told apart by their look, and those with names by their names."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest

import mltassist
from mltassist.cutaways.alike import told_apart
from mltassist.cutaways.framed import framed
from mltassist.cutaways.planner.film import Moment
from mltassist.cutaways.task import supply
from mltassist.frames import Span
from mltassist.recipe.rules import parse_recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.edits import LayShot
from mltassist.timeline.elements import subjects_of
from mltassist.timeline.model import BinClip, Source, SourceKind
from tests.cli.films import EXAMPLE
from tests.rushes.labelled.nameless import nameless, write
from tests.timeline.films import timeline

WHEEL = EXAMPLE / "media/cutaways/wheel-cu.mp4"


def clip(
    name: str, path: Path = WHEEL, folder: str = "", tags: tuple[str, ...] = (), notes: str = ""
) -> BinClip:
    return BinClip(name, name, Source(f"{path}#{name}", SourceKind.FILE, path, 225), folder, tags, notes)


def subjects(*clips: BinClip, words: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    film = timeline(bin_clips=clips)
    findings = find(film, begin(film))
    moments = [Moment(c.source.key, Span(0, 90), c.name, "", (*subjects_of(c), *words), 1.0) for c in clips]
    return [moment.subjects for moment in told_apart(findings, clips, moments)]


@pytest.mark.parametrize("name", ["C0001.mp4", "IMG_0231.mov", "20240312_101500.mp4", "A001C003.mov", "0007"])
def test_what_a_camera_has_named_takes_the_name_of_its_look(name: str) -> None:
    assert subjects(clip(name)) == [(f"≈ {name.lower()}",)]


@pytest.mark.parametrize("folder", ["Part 1", "Rushes/Card 2", "Day 3/Camera 100"])
def test_folders_that_say_where_a_file_came_from_say_nothing(folder: str) -> None:
    assert subjects(clip("C0001.mp4", folder=folder)) == [("≈ c0001.mp4",)]


@pytest.mark.parametrize(
    "told",
    [
        clip("wheel CU"),
        clip("wheel_003.mp4"),
        clip("mud 003.mp4"),
        clip("C0001.mp4", folder="Cutaways/Wheel"),
        clip("C0001.mp4", tags=("wheel",)),
        clip("C0001.mp4", notes="the wheel"),
    ],
)
def test_what_is_named_keeps_its_subjects(told: BinClip) -> None:
    assert subjects(told) == [subjects_of(told)]


def test_what_a_marker_or_a_log_sheet_says_of_a_moment_stays() -> None:
    one = clip("C0001.mp4")
    assert subjects(one, words=("paddles",)) == [(*subjects_of(one), "paddles")]


def test_shots_of_one_thing_look_alike_and_of_others_not(tmp_path) -> None:
    made = nameless()
    film = mltassist.open(write(made, tmp_path, "plain.mlt")).timeline
    was = {Path(new).name: Path(old).stem.rsplit("-", 1)[0] for new, old in made.was.items()}
    look = {moment.name: moment.subjects for moment in supply(find(film, begin(film)))}
    pairs = [(was[a] == was[b], look[a] == look[b]) for a, b in combinations(look, 2)]
    same = [alike for thing, alike in pairs if thing]
    others = [alike for thing, alike in pairs if not thing]
    assert len(same) > 20
    assert sum(same) / len(same) > 0.5
    assert sum(others) / len(others) < 0.02


def test_a_recipe_can_leave_photographs_out() -> None:
    photograph = BinClip(
        "harbour CU", "harbour CU", Source(str(WHEEL), SourceKind.IMAGE, WHEEL, 0, True, False)
    )
    film = replace(timeline(bin_clips=[photograph]))
    assert [m.name for m in supply(find(film, begin(film)), look=False)] == ["harbour CU"]
    rules = parse_recipe("[cover]\nstills = false\n")
    assert list(supply(find(film, begin(film, rules)), look=False)) == []


def test_a_photograph_moves_where_the_recipe_wants_it_and_nothing_else_does() -> None:
    photograph = BinClip("oak", "oak", Source(str(WHEEL), SourceKind.IMAGE, WHEEL, 0, True, False))
    film = timeline(bin_clips=[photograph, clip("C0001.mp4")])
    laid = [LayShot(0, 50, one.source.key, 0, "") for one in film.bin]
    for line, factors in (("", [1.0, 1.0]), ("stills_push_in = 1.04", [1.04, 1.0])):
        rules = parse_recipe(f"[cover]\n{line}\n")
        edits = framed(find(film, begin(film, rules)), laid)
        assert [edit.push_in for edit in edits if isinstance(edit, LayShot)] == factors
