"""The plan of an earlier run is taken where nothing that it is made of has changed, and nowhere else."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

import mltassist
from mltassist import api
from mltassist.choices.kinds import Choices
from mltassist.errors import NothingToDo
from mltassist.files import lying_elsewhere
from mltassist.plans import Note, Plan
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.remembered import plans as again
from mltassist.remembered.plans import known_plan, planned
from mltassist.timeline.edits import AddMarker
from tests.cli.films import EXAMPLE, short, write


@pytest.fixture
def asked(tmp_path, monkeypatch) -> Iterator[list[str]]:
    """The places that `pause` was really asked for, in a cache of its own."""
    monkeypatch.setenv("MLTASSIST_CACHE", str(tmp_path / "cache"))
    found: list[str] = []

    def pause(project: Project, *, at: str, recipe: object, choices: object, on_progress: object) -> Plan:
        found.append(at)
        if at == "nowhere":
            raise NothingToDo(project.path, "no speech was found", "say something")
        figures = {"at": at, "loudness": float("-inf")} if at == "endless" else {"at": at}
        edit, note = AddMarker(3, "é\u2028", "why"), Note("look", 5, needs_editor=True)
        return Plan(
            "pause", project.path, project.timeline.rate, (edit,), (note,), figures, state=project.state
        )

    monkeypatch.setattr(api, "pause", pause)
    yield found


def plan_of(path: Path, at: str = "f9", **more: object) -> Plan:
    given = {"recipe": Recipe(), "choices": Choices(), **more}
    return planned("pause", mltassist.open(path), at=at, **given)


def test_the_plan_is_taken_as_long_as_nothing_has_changed(tmp_path, asked, monkeypatch):
    (tmp_path / "media").mkdir()
    for folder in (EXAMPLE / "media").iterdir():
        (tmp_path / "media" / folder.name).symlink_to(folder)
    path = write(short(700), tmp_path, "plain.mlt")
    first = plan_of(path)
    assert plan_of(path) == first
    assert known_plan("pause", mltassist.open(path), recipe=Recipe(), choices=Choices(), at="f9") == first
    assert asked == ["f9"]
    duck = replace(Recipe().duck, separation_lu=17.0)
    for more in (
        {"at": "f8"},
        {"recipe": replace(Recipe(), duck=duck)},
        {"choices": Choices(never=("gulls*",))},
    ):
        assert plan_of(path, **more) == plan_of(path, **more)
    assert len(asked) == 4
    plan_of(path, fresh=True)
    with lying_elsewhere([("/mnt/a", "/media/a")]):
        plan_of(path)
    monkeypatch.setenv("MLTASSIST_WORDS", "on")  # it listens with other ears
    plan_of(path)
    monkeypatch.setattr(again, "_code", lambda: "another version")
    plan_of(path)
    assert len(asked) == 8
    (tmp_path / "media" / "log.csv").write_text("file,rating\nwheel-ws.mp4,5\n")
    (tmp_path / "log.csv").write_text("file,rating\nwheel-ws.mp4,5\n")
    plan_of(path)
    path.write_text(path.read_text() + "\n")
    plan_of(path)
    copy = path.with_name("other.mlt")
    copy.write_bytes(path.read_bytes())
    assert plan_of(copy).project == copy
    assert len(asked) == 11


def test_what_cannot_be_read_back_or_is_damaged_is_planned_anew(tmp_path, asked, monkeypatch):
    path = write(short(700), tmp_path, "plain.mlt")
    for _ in range(2):
        with pytest.raises(NothingToDo):
            plan_of(path, "nowhere")
    first = plan_of(path)
    for entry in (tmp_path / "cache").glob("*.analysis"):
        os.truncate(entry, entry.stat().st_size // 2)
    assert plan_of(path) == first
    assert asked == ["nowhere", "nowhere", "f9", "f9"]
    assert plan_of(path, "endless").figures["loudness"] == plan_of(path, "endless").figures["loudness"]
    monkeypatch.setenv("MLTASSIST_CACHE", "off")
    assert plan_of(path) == plan_of(path) == first
    assert asked[-2:] == ["f9", "f9"]


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have no names that are not UTF-8")
@pytest.mark.parametrize("name", ["reel \udcff.mlt", "n" * 250 + ".mlt"], ids=["not UTF-8", "longest"])
def test_any_name_that_a_file_can_have_is_none_to_fail_on(tmp_path, asked, name):
    path = write(short(700), tmp_path, "plain.mlt").rename(tmp_path / name)
    assert plan_of(path) == plan_of(path)
    assert asked == ["f9"]
    saved = plan_of(path).save(tmp_path / "plan.json")
    assert Plan.load(saved).project == path
