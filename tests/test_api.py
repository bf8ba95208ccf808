"""The package as a script uses it."""

from __future__ import annotations

import hashlib
from fractions import Fraction

import pytest

import mltassist
from mltassist.errors import NoSuchPlace, NothingToDo, TrackLocked
from mltassist.rushes import logs
from mltassist.timeline.edits import AddMarker, ClearOurs, LayShot, OpenPause
from mltassist.timeline.elements import Element
from tests.cli.films import EXAMPLE, LAYOUTS, locked, short, without_folder, write


@pytest.fixture(scope="module")
def covered(tmp_path_factory: pytest.TempPathFactory) -> tuple[mltassist.Project, mltassist.Plan]:
    """The short film and its cover."""
    project = mltassist.open(write(short(), tmp_path_factory.mktemp("covered")))
    return project, mltassist.cover(project)


def test_every_public_name_is_there():
    assert all(callable(getattr(mltassist, name)) for name in mltassist.__all__)
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = mltassist.no_such_name


def test_a_plan_changes_neither_the_project_nor_its_file(tmp_path):
    path = write(short(), tmp_path)
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    project = mltassist.open(path)
    was = project.timeline
    plan = mltassist.cover(project)
    new = plan.apply(project)
    assert new.timeline != was
    assert project.timeline == was == mltassist.open(path).timeline
    assert hashlib.sha256(path.read_bytes()).hexdigest() == before
    assert [p.name for p in tmp_path.iterdir() if p.is_file()] == [path.name]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_what_is_saved_is_what_was_planned(tmp_path, layout):
    project = mltassist.open(write(short(), tmp_path, layout))
    plan = mltassist.cover(project)
    made = plan.apply(project)
    read = mltassist.open(made.save(tmp_path / f"out{project.path.suffix}"))
    assert read.timeline.tracks == made.timeline.tracks
    cover = read.timeline.of_role("cover")
    assert cover is not None
    assert [(c.start, c.length, c.source.key, c.source_in) for c in cover.clips()] == [
        (e.at, e.length, e.source, e.source_in) for e in plan.edits if isinstance(e, LayShot)
    ]


def test_the_figures_of_cover_agree_with_its_edits(covered):
    project, plan = covered
    shots = [edit for edit in plan.edits if isinstance(edit, LayShot)]
    cuts = mltassist.survey(project).cuts
    jumps = [cut for cut in cuts if cut.kind == "jump"]
    assert plan.figures["shots"] == len(shots)
    assert plan.figures["jump_cuts"] == len(jumps) == 3
    assert plan.figures["jump_cuts_covered_by_editor"] == sum(cut.covered for cut in jumps) == 1
    open_cuts = [cut.at for cut in jumps if not cut.covered]
    hidden = [at for at in open_cuts if any(s.at < at < s.at + s.length for s in shots)]
    assert plan.figures["jump_cuts_covered"] == len(hidden) == 2
    assert plan.figures["face_after_s"] < plan.figures["face_before_s"]


def test_edits_can_be_left_out_of_a_plan(covered):
    project, plan = covered
    shots = [edit for edit in plan.edits if isinstance(edit, LayShot)]
    some = plan.keep(lambda edit: edit != shots[0])
    assert [edit for edit in some.edits if isinstance(edit, LayShot)] == shots[1:]
    cover = some.apply(project).timeline.of_role("cover")
    assert cover is not None
    assert len(list(cover.clips())) == len(shots) - 1


def test_a_recipe_tells_what_no_name_tells(tmp_path):
    project = mltassist.open(write(short(), tmp_path))
    recipe = mltassist.Recipe(pins={"Cutaways": Element.NATURAL})
    found = mltassist.survey(project, recipe=recipe)
    assert {
        v.element for i, v in found.elements.tracks.items() if project.timeline.track(i).name == "Cutaways"
    } == {Element.NATURAL}


def test_pauses_of_recipe_and_call_are_all_opened_and_a_log_sheet_is_read_once(tmp_path, monkeypatch):
    project = mltassist.open(write(short(), tmp_path))
    path = tmp_path / "house.toml"
    (tmp_path / "log.csv").write_text("file,rating\ngulls-ws,5\n", encoding="utf-8")
    reads, read = [], logs.read_log_sheet
    monkeypatch.setattr(logs, "read_log_sheet", lambda *given: reads.append(given) or read(*given))
    path.write_text('[[pauses]]\nat = "let the wheel be heard"\nlength_s = 2\n', encoding="utf-8")
    plan = mltassist.rough(project, recipe=mltassist.load_recipe(path), pauses=[("f532", Fraction(1))])
    opened = [edit for edit in plan.edits if isinstance(edit, OpenPause)]
    assert [(edit.at, edit.length) for edit in opened] == [(786, 50), (532, 25)]
    assert plan.apply(project).timeline.length == project.timeline.length + 75
    # Told where they are in the new film: the earlier pause moves the later one.
    assert [row["at"] for row in plan.figures["pauses"]] == [532, 811]
    assert {"shots", "passages"} <= plan.figures.keys()  # cover and music had their turn
    assert len(reads) == 1


def test_what_cannot_be_done_is_raised_by_name(tmp_path):
    bare = mltassist.open(write(without_folder(short(), "Cutaways"), tmp_path, "shotcut.mlt"))
    with pytest.raises(NothingToDo, match="no cutaway"):
        mltassist.cover(bare)
    fixed = mltassist.open(locked(write(short(), tmp_path), "Interview"))
    with pytest.raises(TrackLocked, match="Interview"):
        mltassist.pause(fixed, at="f700", length=Fraction(2))
    with pytest.raises(NoSuchPlace, match="beyond the end"):
        mltassist.pause(fixed, at="f70000", length=Fraction(2))
    with pytest.raises(NoSuchPlace, match="no length"):
        mltassist.pause(fixed, at="f700", length=Fraction(1, 1000))
    for error in (NothingToDo, TrackLocked, NoSuchPlace):
        assert issubclass(error, mltassist.MltAssistError)
        assert issubclass(error, ValueError)


def test_progress_is_told_by_stage_from_0_to_1(tmp_path):
    told: list[tuple[str, float]] = []
    mltassist.cover(mltassist.open(write(short(), tmp_path)), on_progress=lambda *said: told.append(said))
    assert {stage for stage, _ in told} == {
        "looking through pictures",
        "finding speech",
        "looking at jump cuts",
        "looking at cutaways",
        "planning cover",
    }
    assert all(0 <= part <= 1 for _, part in told)
    parts = [part for stage, part in told if stage == "finding speech"]
    assert parts == sorted(parts)


def test_a_place_without_cutaways_gets_a_marker(tmp_path):
    made = short()
    few = {"media/cutaways/flour-cu.mp4", "media/cutaways/millstones-ms.mp4"}
    rushes = tuple(r for r in made.rushes if not r.file.startswith("media/cutaways/") or r.file in few)
    project = mltassist.open(
        write(type(made)(**{**{f: getattr(made, f) for f in made.__slots__}, "rushes": rushes}), tmp_path)
    )
    plan = mltassist.cover(project)
    markers = [edit for edit in plan.edits if isinstance(edit, AddMarker)]
    assert plan.needs_editor
    assert markers
    assert len(plan.figures["pick_ups"]) == len([n for n in plan.notes if "no cutaway is left" in n.text])
    assert sum(isinstance(edit, ClearOurs) for edit in plan.edits) == 2
    ours = [marker for marker in plan.apply(project).timeline.markers if marker.ours]
    assert [marker.at for marker in ours] == sorted(marker.at for marker in markers)


def test_a_pause_asked_for_inside_a_word_is_opened_and_told():
    project = mltassist.open(EXAMPLE / "saltreed.kdenlive")
    inside = mltassist.pause(project, at="f350", length=Fraction(2))
    assert any("inside a word" in note.text and note.at == 350 for note in inside.notes)
    between = mltassist.pause(project, at="let the wheel be heard", length=Fraction(2))
    assert not any("inside a word" in note.text for note in between.notes)


def test_two_pauses_at_one_place_are_one_and_the_other_is_told_apart_from_an_earlier_run(tmp_path):
    project = mltassist.open(write(short(), tmp_path))
    twice = mltassist.pause(project, at=("f786", "f787"), length=Fraction(2))
    assert sum(isinstance(edit, OpenPause) for edit in twice.edits) == 1
    (told,) = [note for note in twice.notes if note.needs_editor]
    assert (told.at, "another pause that was asked for lies here already" in told.text) == (786, True)
    again = mltassist.pause(twice.apply(project), at="f787", length=Fraction(2))
    assert not again.needs_editor
    assert "an earlier run" in again.notes[0].text
