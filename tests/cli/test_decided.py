"""Plans applied, remarks put in, and what was changed by hand in a passed project taken up as choices."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

import mltassist
from mltassist.choices.kinds import Choices, JoinChoice, ShotChoice
from mltassist.choices.reading import load_choices
from mltassist.document import properties
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.project import Project
from mltassist.timeline.edits import AddMarker, ClearOurs, Edit, LayShot, NudgeJoin, OpenPause
from mltassist.timeline.model import Clip
from tests.hosts.written import WHY, saved, write_generation
from tests.passes import Pass

CUT = 10
"""Frames by which a shot is made shorter at its end."""


def by_hand(project: Project, *edits: Edit) -> Project:
    """The project with edits that nobody noted down: its record of what is ours stays as it was."""
    changed = project.with_edits(edits)
    texts = []
    for one in (project, changed):
        parts = Parts(one.document)
        home = one.host.record_home(parts, main_timeline(one.host, parts))
        assert home is not None
        texts.append((home, properties.get(home, one.host.record) or ""))
    properties.put(texts[1][0], project.host.record, texts[0][1])
    return Project(changed.document, changed.host)


def cover(project: Project) -> list[Clip]:
    track = project.timeline.of_role("cover")
    assert track is not None
    return list(track.clips())


@pytest.fixture(scope="module")
def original(passed: Callable[[str], Pass]) -> Project:
    return mltassist.open(passed("saltreed.mlt").original)


@pytest.fixture(scope="module")
def project(passed: Callable[[str], Pass]) -> Project:
    return mltassist.open(passed("saltreed.mlt").output)


@pytest.fixture(scope="module")
def changed(project: Project) -> Project:
    """One shot swapped and shortened, one deleted, a join moved."""
    clips = cover(project)
    swapped, deleted = clips[4], clips[6]
    wheel = next(clip.source.key for clip in project.timeline.bin if clip.name == "wheel MS")
    own = [
        LayShot(clip.start, clip.length, clip.source.key, clip.source_in, WHY)
        for clip in clips
        if clip not in (swapped, deleted)
    ]
    shot = LayShot(swapped.start, swapped.length - CUT, wheel, 44, WHY)
    (join,) = [
        edit for edit in mltassist.survey(project).cuts if edit.before.source_frame(edit.at - 1) == 264
    ]
    nudge = NudgeJoin(join.at, (join.track,), -2, -2, WHY)
    return by_hand(project, ClearOurs("cover", WHY), *own, shot, nudge)


def test_nothing_is_taken_up_where_nothing_was_changed(project: Project, original: Project) -> None:
    found = mltassist.adopt(project, original=original)
    assert (found.rows, found.notes) == ((), ())


def test_shots_and_joins_changed_by_hand_become_choices(
    project: Project, changed: Project, original: Project
) -> None:
    clips = cover(project)
    found = mltassist.adopt(changed, original=original, choices=Choices(never=("gulls*",)))
    (swapped,) = [row for row in found.rows if isinstance(row, ShotChoice) and row.clip]
    assert (swapped.choice, swapped.clip, swapped.source_in) == ("other clip", "wheel-ms.mp4", 44)
    assert (swapped.begin_by, swapped.end_by) == (0, -CUT)
    (stays,) = [row for row in found.rows if isinstance(row, ShotChoice) and not row.clip]
    assert stays.choice == "face stays"
    (moved,) = [row for row in found.rows if isinstance(row, JoinChoice)]
    assert (moved.name, moved.choice) == ("join 264 ines.mp4 > 406 ines.mp4", "moved")
    assert (moved.before_by, moved.after_by) == (-2, -2)
    assert {note.at for note in found.notes} >= {clips[4].start, clips[6].start}
    assert found.choices.never == ("gulls*",)
    assert len(tuple(found.choices)) == len(found.rows) == 3


def test_the_next_run_keeps_what_was_taken_up(changed: Project, original: Project) -> None:
    found = mltassist.adopt(changed, original=original)
    plan = mltassist.cover(original, choices=found.choices, no_look=True)
    shots = {edit.decision: edit for edit in plan.edits if isinstance(edit, LayShot)}
    (swapped,) = [row for row in found.rows if isinstance(row, ShotChoice) and row.clip]
    assert (shots[swapped.name].name, shots[swapped.name].source_in) == ("wheel MS", 44)
    assert [note.text for note in plan.notes if "the choice on" in note.text] == []
    told = {one.name: one.choice for one in plan.decisions}
    assert all(told[row.name] == row.choice for row in found.rows if isinstance(row, ShotChoice))


def test_adopt_writes_the_file_of_the_film(run, changed: Project, original: Project, tmp_path: Path) -> None:
    film = tmp_path / "film.mlt"
    (tmp_path / "media").symlink_to(original.path.parent / "media")
    original.save(film)
    changed.save(tmp_path / "film-rough.mlt")
    dry = run("adopt", tmp_path / "film-rough.mlt", "--dry-run")
    assert "nothing written: dry run" in dry.out
    ran = run("adopt", tmp_path / "film-rough.mlt", "--json")
    assert ran.status == 0
    told = json.loads(ran.out)
    assert told["output"] == str(tmp_path / "film.choices.toml")
    choices = load_choices(tmp_path / "film.choices.toml")
    assert len(told["adopted"]) == len(tuple(choices)) == 3
    assert "no pass was made" in run("adopt", film).out


def test_remarks_become_markers(run, tmp_path: Path) -> None:
    written = write_generation("shotcut 25.12", tmp_path)
    project = saved(written.project())
    remarks = tmp_path / "remarks.json"
    rows = [
        {"at": "f40", "text": "too long", "by": "Ada"},
        {"at": "opening", "text": "lovely"},
        {"at": "pause 89 talk.mkv", "text": "let it breathe"},
        {"at": "join 89 talk.mkv > 120 talk.mkv", "text": "here"},
        {"at": "shot 900 talk.mkv > 950 talk.mkv", "text": "gone"},
    ]
    remarks.write_text(json.dumps(rows), encoding="utf-8")
    plan = mltassist.remarks(remarks, project)
    marked = [(m.at, m.text) for m in plan.apply(project).timeline.markers if m.ours]
    assert marked == [
        (30, "mltassist: lovely"),
        (40, "mltassist: Ada: too long"),
        (80, "mltassist: let it breathe"),
        (80, "mltassist: here"),
    ]
    assert [note.text for note in plan.notes if note.needs_editor] == [
        "'shot 900 talk.mkv > 950 talk.mkv' is no place in this film; there it was said: gone"
    ]
    export = {
        **{"format": "mltassist-remarks", "version": 1, "film": "x.mlt", "rate": [25, 1], "by": "Ada"},
        "remarks": [
            {"at": 7, "timecode": "00:00:00:07", "about": "strip", "text": "one"},
            {"at": 7, "timecode": "00:00:00:07", "about": "pause 89 talk.mkv", "text": "two"},
            {"at": 9, "timecode": "00:00:00:09", "about": "pause 899 gone.mkv", "text": "three"},
        ],
    }
    remarks.write_text(json.dumps(export), encoding="utf-8")
    plan = mltassist.remarks(remarks, project)
    marked = [(edit.at, edit.text) for edit in plan.edits if isinstance(edit, AddMarker)]
    assert marked == [(7, "Ada: one"), (80, "Ada: two"), (9, "Ada: three")]
    remarks.write_text('[{"at": 3, "text": "x"}, {"text": "y", "who": "z"}]', encoding="utf-8")
    ran = run("remarks", remarks, project.path)
    assert ran.status == 2
    assert ran.err.splitlines() == [
        f"mltassist: {remarks}: remark[0].at: 3 should be text in quotes",
        f"mltassist: {remarks}: remark[1].at: is missing",
        f"mltassist: {remarks}: remark[1]: unknown key who",
    ]


def test_a_plan_is_applied_to_the_state_it_was_made_for_alone(run, tmp_path: Path) -> None:
    written = write_generation("shotcut 25.12", tmp_path)
    project = saved(written.project())
    made = mltassist.clear(project.with_edits([OpenPause(40, 30, WHY)]))
    plan = tmp_path / "plan.json"
    made.save(plan)
    assert mltassist.Plan.load(plan) == made
    ran = run("apply", plan, project.path)
    assert ran.status == 2
    assert "it was made for another state" in ran.err
    fitting = mltassist.remarks(_remarks(tmp_path), project)
    fitting.save(plan, force=True)
    ran = run("apply", plan, project.path, "-o", tmp_path / "out.mlt")
    assert ran.status == 0
    assert [m.at for m in mltassist.open(tmp_path / "out.mlt").timeline.markers if m.ours] == [12]
    data = json.loads(plan.read_text("utf-8"))
    data["edits"][0]["at"] = -3
    data["notes"] = [{"text": 3}]
    data["rate"] = [25, 0]
    plan.write_text(json.dumps(data), encoding="utf-8")
    lines = run("apply", plan, project.path).err.splitlines()
    assert lines == [
        f"mltassist: {plan}: edit 1 (AddMarker): at: -3 should be 0 to 1000000000",
        f"mltassist: {plan}: notes[0].text: 3 should be text in quotes",
        f"mltassist: {plan}: rate: [25, 0] should be two whole numbers above 0",
    ]


def _remarks(folder: Path) -> Path:
    path = folder / "remarks.json"
    path.write_text('[{"at": "f12", "text": "look"}]', encoding="utf-8")
    return path


def test_nothing_is_written_where_there_is_nothing_to_do(run, tmp_path: Path) -> None:
    film = write_generation("shotcut 25.12", tmp_path).project().path
    there = sorted(tmp_path.iterdir())
    ran = run("clear", film)
    assert (ran.status, ran.out.strip()) == (0, "nothing written: there is nothing of ours in it")
    assert "(gain, cover)" in run("clear", film, "--part", "gain", "--part", "cover", "--dry-run").out
    told = json.loads(run("clear", film, "--json", "-o", tmp_path / "out.mlt").out)
    assert (told["output"], told["edits"]) == (None, [])  # no part is named that is not there
    assert sorted(tmp_path.iterdir()) == there
    gone = tmp_path / "gone.json"
    gone.write_text('[{"at": "shot 900 talk.mkv > 950 talk.mkv", "text": "gone"}]', encoding="utf-8")
    ran = run("remarks", gone, film)
    assert "nothing written: no remark has a place in this film" in ran.out
    assert sorted(tmp_path.iterdir()) == sorted((*there, gone))
