"""Many projects in one call."""

from __future__ import annotations

import json
import shutil
from concurrent.futures import ThreadPoolExecutor

import pytest

import mltassist
from mltassist import batches
from mltassist.frames import Rate
from mltassist.plans import Note
from mltassist.season import running
from mltassist.season.record import NAME
from tests.cli.conftest import digest
from tests.cli.films import scarce, short, without_folder, write


@pytest.fixture
def series(tmp_path):
    """Two films and a file that is no project."""
    paths = [write(scarce(short(700)), tmp_path, layout) for layout in ("plain.mlt", "host.kdenlive")]
    broken = tmp_path / "broken.mlt"
    broken.write_text("<mlt", encoding="utf-8")
    return [paths[0], broken, paths[1]]


def test_a_project_that_fails_never_stops_the_others(tmp_path, run, series):
    out = tmp_path / "new" / "covered"
    before = [digest(path) for path in series]
    ran = run("batch", *series, "--out", out, "--jobs", "2", "--json")
    assert ran.status == 1
    told = json.loads(ran.out)["outcomes"]
    assert [row["project"] for row in told] == [str(path) for path in series]
    assert [bool(row["problem"]) for row in told] == [False, True, False]
    assert "not well-formed" in told[1]["problem"]
    names = sorted(path.name for path in out.iterdir() if path.name != NAME)
    assert names == ["host-rough.kdenlive", "plain-rough.mlt"]
    for row in (told[0], told[2]):
        assert row["figures"]["jump_cuts_left"] == 0
        assert mltassist.open(row["output"]).timeline.of_role("cover") is not None
    assert [digest(path) for path in series] == before


def test_a_dry_run_writes_none_and_the_table_says_so(tmp_path, run, series):
    out = tmp_path / "covered"
    ran = run("batch", *series[1:], "--out", out, "--jobs", "1", "--dry-run")
    assert ran.status == 1
    assert not out.exists()
    assert "planned, not written" in ran.out
    assert ran.out.count("failed:") == 1
    assert "not well-formed" in " ".join(ran.out.split())


def test_nothing_written_is_said_in_one_line(tmp_path, run, series):
    ran = run("batch", *series, "--out", tmp_path / "covered", "--pause", "the wheal=4")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "'the wheal' is a place in none of them" in ran.err
    assert not (tmp_path / "covered").exists()
    ran = run("batch", series[1], tmp_path / "none.mlt", "--out", tmp_path / "covered", "--jobs", "1")
    assert ran.status == 2
    assert ran.out.count("failed:") == 2
    assert len(ran.err.splitlines()) == 1
    assert "2 of 2 projects failed" in ran.err
    assert not list((tmp_path / "covered").iterdir())


def in_threads(*projects, **options):
    with ThreadPoolExecutor(1) as pool:
        return mltassist.batch(*projects, executor=pool, **options)


def test_projects_of_one_name_are_numbered(tmp_path, series):
    other = tmp_path / "other"
    other.mkdir()
    (other / "media").symlink_to((tmp_path / "media").resolve())
    shutil.copy(series[0], other)
    found = in_threads([series[0], other / "plain.mlt"], out=tmp_path / "covered")
    assert [outcome.output.name for outcome in found] == ["plain-rough.mlt", "plain-rough-2.mlt"]
    assert not any(outcome.problem for outcome in found)


def test_a_single_project_need_be_no_list(tmp_path, series):
    for one in (series[1], str(series[1])):
        (outcome,) = in_threads(one, out=tmp_path / "covered")
        assert outcome.project == series[1]


@pytest.mark.parametrize(
    ("jobs", "platform", "workers"),
    [(None, "linux", 80), (70, "linux", 70), (None, "win32", 61), (70, "win32", 61), (2, "win32", 2)],
)
def test_windows_runs_as_many_workers_as_it_can_wait_for(monkeypatch, jobs, platform, workers):
    # 61: the limit that concurrent.futures documents for max_workers on Windows.
    monkeypatch.setattr(running.os, "cpu_count", lambda: 80)
    assert running.workers(jobs, platform) == workers


def test_what_exists_is_kept_unless_forced(tmp_path, series):
    out = tmp_path / "covered"
    out.mkdir()
    (out / "plain-rough.mlt").write_text("mine", encoding="utf-8")
    kept = in_threads(series[:1], out=out)
    assert "exists already" in kept[0].problem
    assert (out / "plain-rough.mlt").read_text(encoding="utf-8") == "mine"
    forced = in_threads(series[:1], out=out, force=True)
    assert forced[0].problem == ""


def test_what_needs_the_editor_is_named_with_its_project(tmp_path, run, series):
    quiet = write(without_folder(short(700), "Cutaways"), tmp_path)
    ran = run("batch", quiet, "--out", tmp_path / "covered", "--jobs", "1", "--json")
    assert ran.status == 1
    row = json.loads(ran.out)["outcomes"][0]
    needed = [Note(**note) for note in row["notes"] if note["needs_editor"]]
    assert row["check"] == len(needed) >= 1
    rate = Rate(*row["rate"])
    assert ran.err.splitlines() == [f"check: {quiet}: {note.told(rate)}" for note in needed]
    assert "no cutaway" in ran.err


def test_a_fault_of_ours_in_one_project_does_not_cost_the_others(tmp_path, series, monkeypatch):
    real = batches.one

    def one(call):
        if call.project == series[1]:
            raise KeyError("unforeseen")
        return real(call)

    monkeypatch.setattr(batches, "one", one)
    found = in_threads(series, out=tmp_path / "covered", dry_run=True)
    assert [bool(outcome.problem) for outcome in found] == [False, True, False]
    assert "unexpected KeyError" in found[1].problem


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path, run, series):
    file = tmp_path / "file"
    file.touch()
    assert "cannot be made" in run("batch", series[0], "--out", file / "covered").refused()
