"""Answers as JUnit XML, read back by a library that is not ours (junitparser)."""

from __future__ import annotations

from pathlib import Path

import junitparser
import pytest

from mltassist.conforming.judge import Answer, BreachPlace, Conformity
from mltassist.conforming.junit import Judged, junit_xml, save_junit
from mltassist.errors import OutputError
from mltassist.frames import Rate

KEPT = Answer("true peak", "-1 dBTP at most", "-3.0 dBTP")
BROKEN = Answer(
    "no black",
    "something is seen",
    "",
    (BreachPlace("black <here> & \x1b there", 30), BreachPlace("black", 50)),
)
FILMS = (
    Judged(Path("one.mlt"), Conformity(Path("one.mlt"), Rate(25), (KEPT, BROKEN)), seconds=2.5),
    Judged(Path("two.mlt"), problem="two.mlt: not well-formed", seconds=0.1),
)


def test_a_suite_for_each_film_and_a_case_for_each_rule(tmp_path):
    save_junit(FILMS, tmp_path / "answers.xml")
    read = junitparser.JUnitXml.fromfile(str(tmp_path / "answers.xml"))
    assert (read.tests, read.failures, read.errors, read.time) == (3, 1, 1, 2.6)
    one, two = list(read)
    assert (one.name, one.tests, one.failures, one.errors) == ("one.mlt", 2, 1, 0)
    kept, broken = list(one)
    assert (kept.name, kept.classname, kept.is_passed) == ("true peak", "one", True)
    (failure,) = broken.result
    assert isinstance(failure, junitparser.Failure)
    assert failure.message == "2 places, the first: 00:00:01:05  black <here> & \ufffd there"
    assert failure.text.splitlines()[1] == "00:00:02:00  black"
    (opened,) = list(two)
    assert isinstance(opened.result[0], junitparser.Error)
    assert "not well-formed" in opened.result[0].message
    before = (read.tests, read.failures, read.errors)
    read.update_statistics()  # the library counts for itself
    assert (read.tests, read.failures, read.errors) == before


def test_only_names_of_the_schema_are_used():
    """Elements and attributes of the JUnit 10 schema of a widely used build server (from memory of it)."""
    allowed = {
        "testsuites": {"name", "time", "tests", "failures", "errors"},
        "testsuite": {"name", "tests", "failures", "errors", "skipped", "time"},
        "testcase": {"name", "classname", "time"},
        "failure": {"message", "type"},
        "error": {"message", "type"},
    }
    root = junitparser.JUnitXml.fromstring(junit_xml(FILMS).partition("\n")[2])._elem
    for element in root.iter():
        assert set(element.attrib) <= allowed[element.tag]


def test_it_is_never_written_over_a_project(tmp_path):
    film = tmp_path / "film.mlt"
    film.write_text("<mlt/>")
    judged = [Judged(film, problem="x")]
    for force in (False, True):
        with pytest.raises(OutputError, match="is the project"):
            save_junit(judged, film, force=force)
    assert film.read_text() == "<mlt/>"
