"""Answers as JUnit XML, which build servers show: a suite for each film, a case for each rule."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lxml import etree

from mltassist.conforming.judge import Answer, Conformity
from mltassist.document.save import permit, save_text

_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What no XML 1.0 document can hold, not even by number."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A film that was to be judged. problem: why it could not be; "" where it was.

    name: what it is called among others, where that is not the name of its file.
    """

    project: Path
    conformity: Conformity | None = None
    problem: str = ""
    seconds: float = 0.0
    name: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Plain data, in the form of docs/formats.md."""
        if self.conformity is not None:
            return {**self.conformity.as_dict(), "problem": ""}
        row: dict[str, Any] = {"rate": None, "conforms": False, "rules": [], "notes": []}
        return {"project": str(self.project), **row, "problem": self.problem}


def junit_xml(judged: Sequence[Judged]) -> str:
    """The answers for all films. Elements and attributes are those of the widely read JUnit 10 schema.

    A rule that is not kept is a failure, a film that cannot be judged an error of one case, "opened".
    """
    root = etree.Element("testsuites", name="mltassist")
    for film in judged:
        root.append(_suite(film))
    for name in ("tests", "failures", "errors"):
        root.set(name, str(sum(int(suite.get(name) or 0) for suite in root)))
    root.set("time", f"{sum(film.seconds for film in judged):.3f}")
    etree.indent(root)
    return "<?xml version='1.0' encoding='UTF-8'?>\n" + etree.tostring(root, encoding="unicode") + "\n"


def _suite(film: Judged) -> etree._Element:
    suite = etree.Element("testsuite", name=_xml(str(film.project)))
    answers: tuple[Answer, ...] = () if film.conformity is None else film.conformity.answers
    suite.set("tests", str(len(answers) or 1))
    suite.set("failures", str(sum(not answer.kept for answer in answers)))
    suite.set("errors", str(int(film.conformity is None)))
    suite.set("skipped", "0")
    suite.set("time", f"{film.seconds:.3f}")
    name = _xml(film.name or film.project.stem)
    if film.conformity is None:
        case = etree.SubElement(suite, "testcase", classname=name, name="opened", time=f"{film.seconds:.3f}")
        etree.SubElement(case, "error", message=_xml(film.problem), type="MltAssistError")
        return suite
    for answer in answers:
        case = etree.SubElement(suite, "testcase", classname=name, name=answer.rule, time="0.000")
        if answer.kept:
            continue
        told = [film.conformity.told(breach) for breach in answer.breaches]
        message = told[0] if len(told) == 1 else f"{len(told)} places, the first: {told[0]}"
        failure = etree.SubElement(case, "failure", message=_xml(message), type=answer.rule)
        failure.text = _xml("\n".join(told))
    return suite


def _xml(text: str) -> str:
    return _NOT_XML.sub("\ufffd", text)


def permit_junit(projects: Iterable[Path], target: Path, *, force: bool = False) -> None:
    """Raise OutputError unless the file may be written: it is none of the projects, and free (or `force`)."""
    for project in projects:
        permit(project, target, force=force)


def save_junit(judged: Sequence[Judged], target: Path, *, force: bool = False) -> None:
    """Write the answers, whole or not at all. Raises OutputError."""
    permit_junit((film.project for film in judged), target, force=force)
    first = judged[0].project if judged else target.with_name("")
    save_text(junit_xml(judged), target, original=first, force=force)
