"""What people read in the terminal: shots a line each, words of the trade, no more than was asked for."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import fields

import pytest

import mltassist
from mltassist.cli import screen
from mltassist.cli.wording import said
from mltassist.errors import NoSuchPlace, OutputError
from mltassist.frames import Rate
from mltassist.timeline.edits import EDITS
from mltassist.timeline.figures import Figures
from tests.hosts.written import saved, write_generation
from tests.passes import Pass
from tests.test_plans import EDITS_OF_ALL_KINDS


@pytest.mark.parametrize("width", [80, 120])
def test_every_shot_is_one_line_by_timecode(
    passed: Callable[[str], Pass], width: int, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    monkeypatch.setattr(screen, "out", lambda: screen.Screen(highlight=False, markup=False, width=width))
    plan = passed("saltreed.mlt").plan
    screen.print_plan(plan)
    lines = capsys.readouterr().out.splitlines()
    shown = plan.figures["shown"]
    starts = [
        line
        for line in lines
        for row in shown
        if line.startswith(row["timecode"]) and row["clip"][:6] in line
    ]
    assert len(starts) == len(shown) > 15
    assert max(map(len, lines)) <= width
    first = next(line for line in lines if line.startswith(shown[1]["timecode"]))
    assert f"{shown[1]['seconds']:.1f} s" in first
    assert shown[1]["said"][:8] in first
    assert first.rstrip().endswith(shown[1]["why"].removeprefix("covers ").replace(" is said", ""))


def test_a_dry_run_tells_each_shot_once(
    passed: Callable[[str], Pass], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(screen, "out", lambda: screen.Screen(highlight=False, markup=False, width=120))
    plan = passed("saltreed.mlt").plan
    screen.print_edits(plan)
    screen.print_plan(plan, listed=True)
    lines = capsys.readouterr().out.splitlines()
    told = [row["timecode"] for row in plan.figures["shown"]]
    for at in told:
        shots = [line for line in lines if line.startswith(f"{at} ") and " shot " in line]
        assert len(shots) == 1
        assert not [line for line in lines if line.startswith(f"{at} ") and line.split()[2] == "s"]


def test_no_edit_is_told_by_the_name_of_a_class_or_as_a_tuple() -> None:
    told = {type(edit): " ".join(said(edit, Rate(25))) for edit in EDITS_OF_ALL_KINDS}
    assert set(told) == set(EDITS)
    for words in told.values():
        assert not re.search(r"[()\[\]]", words), words
        assert not any(kind.__name__ in words for kind in EDITS), words
    assert len(set(told.values())) == len(told)


def test_quiet_tells_what_was_written_and_verbose_every_edit(run, tmp_path) -> None:
    project = saved(write_generation("shotcut 25.12", tmp_path).project())
    remarks = tmp_path / "remarks.json"
    remarks.write_text(
        '[{"at": "f40", "text": "too long"}, {"at": "f999", "text": "gone"}]', encoding="utf-8"
    )
    quiet = run("remarks", remarks, project.path, "-q", "-o", tmp_path / "a.mlt")
    assert quiet.out.splitlines() == [f"written: {tmp_path / 'a.mlt'}"]
    assert quiet.err.startswith("check: 'f999' is no place")
    verbose = run("remarks", remarks, project.path, "-v", "-o", tmp_path / "b.mlt")
    assert re.search(r"00:00:01:15 +marker +too long +a remark", verbose.out)


def test_markers_are_listed_where_one_is_not_found(tmp_path) -> None:
    project = saved(write_generation("shotcut 25.12", tmp_path).project())
    with pytest.raises(
        NoSuchPlace, match="no marker says 'close'; there are 'Opening', 'The jump', 'Ebbe – é'"
    ):
        mltassist.pause(project, at="close", length=2)


def test_sound_files_of_an_earlier_run_are_never_replaced(tmp_path) -> None:
    from mltassist.joins.soundclips import make_sound_folder

    make_sound_folder(tmp_path / "edits")
    (tmp_path / "edits" / "notes.txt").touch()
    make_sound_folder(tmp_path / "edits")
    (tmp_path / "edits" / "001_00-00-03-05_clean.wav").touch()
    with pytest.raises(OutputError, match="holds 1 sound files of an earlier run"):
        make_sound_folder(tmp_path / "edits")


def test_figures_are_typed_part_by_part(passed: Callable[[str], Pass]) -> None:
    plan = passed("saltreed.mlt").plan
    found = plan.found
    parts = (found.joins, found.cover, found.levels)
    assert None not in parts
    names = {"length", "pauses"}.union(*({each.name for each in fields(part)} for part in parts))
    assert set(found) == names
    assert found.cover.jump_cuts_left == plan.figures["jump_cuts_left"] == 0
    assert [pause.seconds for pause in found.pauses] == [5.0]
    assert found.length.after - found.length.before == 125
    beneath = [row for passage in found.levels.passages for row in passage.beneath]
    assert {row.sound for row in beneath} >= {"music"}
    assert found.levels.mix.after.peak_dbtp < 0
    assert Figures({}).cover is None
    with pytest.raises(ValueError, match=r"figures: after: \"long\" should be a whole number"):
        _ = Figures({"length": {"before": 1, "after": "long", "timecode": ""}}).length


def test_the_package_shows_what_is_public() -> None:
    assert set(dir(mltassist)) == {*mltassist.__all__, "__version__"}


def test_a_film_is_measured_without_planning_anything(tmp_path) -> None:
    project = saved(write_generation("shotcut 25.12", tmp_path).project())
    found = mltassist.measure(project)
    assert found.as_dict()["mix"]["integrated_lufs"] is None  # its media are not there
    assert found.speech == ()
    assert any("is not there" in note.text or "no such file" in note.text for note in found.notes)
