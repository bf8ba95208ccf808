"""Faults that the engine passes over in silence are found, each once and by its kind."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from lxml import etree

from mltassist.checking import Fault, check
from mltassist.document import properties
from mltassist.project import Project, open_project
from tests.hosts.films import BOAT, FILM, TALK, write_media
from tests.hosts.generations import GENERATIONS, ODDITIES
from tests.hosts.layouts.parts import entries, part
from tests.hosts.written import write_feature, write_generation

Root = etree._Element


@pytest.fixture
def project(tmp_path: Path) -> Project:
    """The film in the newest layout with sequences; its media are there."""
    write_media(tmp_path, FILM.rate)
    return write_generation("kdenlive 1.1", tmp_path).project()


def kinds(project: Project, **options: Project) -> list[str]:
    return [fault.kind for fault in check(project, **options)]


def test_a_whole_project_has_no_fault(project: Project):
    assert check(project) == ()


def test_a_missing_file_is_named_once(project: Project):
    (project.path.parent / BOAT.file).unlink()
    assert check(project) == (Fault("media", str(project.path.parent / BOAT.file), "the file is not there"),)


def entry_of_nothing(root: Root) -> None:
    entries(root, "playlist4")[0].set("producer", "gone")


def named_too_early(root: Root) -> None:
    root.append(part(root, entries(root, "playlist6")[0].get("producer", "")))


def id_twice(root: Root) -> None:
    chain = part(root, "chain0")
    chain.addnext(etree.fromstring(etree.tostring(chain)))


def in_after_out(root: Root) -> None:
    # An engine swaps the two; the clip plays the same frames.
    entry = entries(root, "playlist6")[0]
    first, last = entry.get("in", ""), entry.get("out", "")
    entry.set("in", last)
    entry.set("out", first)


def transition_to_no_track(root: Root) -> None:
    transition = next(root.iter("transition"))
    properties.put(transition, "b_track", "17")


def track_too_long(root: Root) -> None:
    part(root, "tractor0").set("out", "00:00:20.000")


def group_of_nothing(root: Root) -> None:
    for element in root.iter("property"):
        if element.get("name", "").endswith("sequenceproperties.groups"):
            element.text = (element.text or "").replace(":80:", ":81:")


def out_of_step(root: Root) -> None:
    entry = entries(root, "playlist2")[1]
    entry.set("in", "00:00:04.840")  # one frame on, on one half only
    entry.set("out", "00:00:07.200")


@pytest.mark.parametrize(
    ("damage", "found"),
    [
        (entry_of_nothing, {"id"}),
        (named_too_early, {"id"}),
        (id_twice, {"id"}),
        (in_after_out, {"range"}),
        (transition_to_no_track, {"transition"}),
        (track_too_long, {"length"}),
        (group_of_nothing, {"group"}),
        (out_of_step, {"step"}),
    ],
)
def test_each_fault_is_found_by_its_kind(project: Project, damage: Callable[[Root], None], found: set[str]):
    original = open_project(project.path)
    damage(project.document.root)
    assert found <= set(kinds(project))
    assert found <= set(kinds(project, original=original))
    # What the original has too is not told again.
    assert check(project, original=project) == ()


def test_faults_come_in_a_stable_order(project: Project):
    for damage in (group_of_nothing, transition_to_no_track, id_twice, track_too_long):
        damage(project.document.root)
    faults = check(project)
    assert list(faults) == sorted(faults)
    assert {fault.kind for fault in faults} == {"group", "transition", "id", "length"}


def test_a_second_fault_like_one_of_the_original_is_told(project: Project):
    id_twice(project.document.root)
    original = open_project(project.path)
    id_twice(original.document.root)
    id_twice(project.document.root)
    assert check(project, original=original) == check(original)
    assert len(check(project)) == 2


def test_clips_that_dissolve_are_no_fault(tmp_path: Path):
    write_media(tmp_path, FILM.rate)
    for name in ("kdenlive 1.1 same-track mix", "shotcut 24.04 dissolve"):
        assert check(open_project(write_feature(name, tmp_path))) == ()


def test_a_missing_background_is_a_fault_and_a_track_of_nothing_none(tmp_path: Path):
    write_media(tmp_path, FILM.rate)
    found = {}
    for name in ("background missing", "track of nothing"):
        path = tmp_path / f"odd{ODDITIES[name].suffix}"
        path.write_bytes(ODDITIES[name].write(FILM))
        found[name] = kinds(open_project(path))
    assert found == {"background missing": ["id"], "track of nothing": []}


@pytest.mark.parametrize("name", GENERATIONS)
def test_a_clip_out_of_place_is_found_in_every_layout(name: str, tmp_path: Path):
    write_media(tmp_path, FILM.rate)
    written = write_generation(name, tmp_path)
    assert check(written.project()) == ()
    project = written.project()
    timeline = [e for e in project.document.root.iter("entry") if e.getprevious() is not None][-1]
    timeline.set("producer", "nowhere")
    assert "id" in kinds(project)


def test_plain_data_of_a_fault_names_all_three(project: Project):
    (project.path.parent / TALK.file).unlink()
    (fault,) = check(project)
    assert fault.as_dict() == {"kind": "media", "where": fault.where, "what": "the file is not there"}
