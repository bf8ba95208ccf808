"""Films judged by the rules of a recipe from the command line."""

from __future__ import annotations

import json

import junitparser
import pytest

import mltassist
from mltassist.season.record import NAME
from tests.cli.conftest import digest
from tests.cli.films import short, write

WHOLE = 693  # frames at which no picture is cut off so short that it flashes


@pytest.fixture(scope="module")
def films(tmp_path_factory):
    """A folder with a film that conforms, one that does not, and one that is none."""
    folder = tmp_path_factory.mktemp("films")
    raw = write(short(WHOLE), folder, "plain.mlt")
    project = mltassist.open(raw)
    plan = mltassist.rough(project, normalise=True, no_look=True)
    (folder / "done").mkdir()
    good = plan.apply(project).save(folder / "done" / "film.mlt")
    broken = folder / "broken.mlt"
    broken.write_text("<mlt", encoding="utf-8")
    return good, raw, broken


def test_one_film(run, films, tmp_path):
    good, raw, _ = films
    ran = run("check", good, "--rules", "--no-look")
    assert (ran.status, ran.err) == (0, "")
    assert "integrated loudness" in ran.out
    ran = run("check", raw, "--rules", "--no-look", "--json", "--junit", tmp_path / "a.xml")
    assert ran.status == 1
    assert json.loads(ran.out)["conforms"] is False
    assert any("check: jump cuts covered: 00:00:" in line for line in ran.err.splitlines())
    assert junitparser.JUnitXml.fromfile(str(tmp_path / "a.xml")).failures > 0


def test_a_season_is_judged_and_nothing_is_written(run, films, tmp_path):
    before = {path: digest(path) for path in films[0].parents[1].rglob("*.mlt")}
    answers = tmp_path / "answers.xml"
    ran = run("batch", *films, "--check", "--no-look", "--jobs", "1", "--json", "--junit", answers)
    assert ran.status == 1
    told = json.loads(ran.out)["films"]
    assert [row["conforms"] for row in told] == [True, False, False]
    assert [bool(row["problem"]) for row in told] == [False, False, True]
    read = junitparser.JUnitXml.fromfile(str(answers))
    assert [suite.errors for suite in read] == [0, 0, 1]
    assert {path: digest(path) for path in films[0].parents[1].rglob("*.mlt")} == before
    assert not list(films[0].parents[1].rglob(NAME))


def test_exit_codes(run, films, tmp_path):
    good, _, broken = films
    ran = run("batch", broken, "--check", "--jobs", "1", "--junit", tmp_path / "a.xml")
    assert ran.status == 2
    assert "not judged" in ran.out
    assert len(ran.err.splitlines()) == 1
    assert "exists already" in run("batch", good, "--check", "--junit", tmp_path / "a.xml").refused()
