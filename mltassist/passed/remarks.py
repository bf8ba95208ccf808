"""Remarks of somebody who has looked at a plan, put into a project as markers of ours."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import cattrs

from mltassist.choices.naming import Name, read_name
from mltassist.errors import NoSuchPlace, PlanError
from mltassist.files import read_text
from mltassist.findings import Findings
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.timeline.cuts import speech_edits
from mltassist.timeline.edits import AddMarker
from mltassist.timeline.places import find_place
from mltassist.timeline.structured import Mistake, converter, mistakes


@dataclass(frozen=True, slots=True)
class Remark:
    """What somebody says of a place. at: timecode, f-number, text of a marker, or name of a decision.

    timecode: where that lay in the film that was looked at; it serves where the decision is there no more.
    """

    at: str
    text: str
    by: str = ""
    timecode: str = ""


@dataclass(frozen=True, slots=True)
class _Row:
    """A remark as a page exports it. at: frame; about: name of a decision, if it is on one."""

    at: int
    timecode: str
    text: str
    about: str = ""


@dataclass(frozen=True, slots=True)
class _Export:
    """What a page exports."""

    format: Literal["mltassist-remarks"]
    version: Literal[1]
    remarks: tuple[_Row, ...]
    film: str = ""
    rate: tuple[int, ...] = ()
    by: str = ""

    def rows(self) -> tuple[Remark, ...]:
        """The remarks."""
        return tuple(
            Remark(row.about if read_name(row.about) else row.timecode, row.text, self.by, row.timecode)
            for row in self.remarks
        )


def read_remarks(path: str | os.PathLike[str]) -> tuple[Remark, ...]:
    """The remarks of a file (docs/formats.md). Raises PlanError naming every mistake."""
    try:
        data = json.loads(read_text(Path(path)))
    except OSError as error:
        raise PlanError(path, [f"cannot be read ({error.strerror})"], _ADVICE) from None
    except (ValueError, RecursionError):  # no UTF-8, or no JSON
        raise PlanError(path, ["is no list of remarks"], _ADVICE) from None
    try:
        if isinstance(data, dict):
            return converter().structure(data, _Export).rows()
        return converter().structure(data, tuple[Remark, ...])
    except cattrs.BaseValidationError as error:
        raise PlanError(path, [_told(mistake) for mistake in mistakes(error)], _ADVICE) from None
    except ValueError:
        raise PlanError(path, ["is no list of remarks"], _ADVICE) from None


def _told(mistake: Mistake) -> str:
    return f"remark{mistake.told}" if mistake.path and isinstance(mistake.path[0], int) else mistake.told


_ADVICE = "export it anew, or mend it (docs/formats.md)"


def plan_of_remarks(project: Project, findings: Findings, remarks: Iterable[Remark]) -> Plan:
    """A marker for every remark whose place is in the film; the others are told."""
    edits = []
    for remark in remarks:
        said = " ".join(filter(None, (f"{remark.by}:" if remark.by else "", remark.text)))
        at = _place(findings, remark.at)
        if at is None and remark.timecode:
            at = _place(findings, remark.timecode)
        if at is None:
            findings.note(
                f"{remark.at!r} is no place in this film; there it was said: {said}", needs_editor=True
            )
        else:
            edits.append(AddMarker(at, said, "a remark"))
    rate, notes = project.timeline.rate, tuple(findings.notes)
    return Plan("remarks", project.path, rate, tuple(edits), notes, state=project.state)


def _place(findings: Findings, text: str) -> int | None:
    name = read_name(text)
    if name is not None:
        return _decided(findings, name)
    try:
        return find_place(findings.timeline, text)
    except NoSuchPlace:
        return None


def _decided(findings: Findings, name: Name) -> int | None:
    """Where what a decision is about begins."""
    if name.kind == "join":
        edit = findings.places.join_of(name, speech_edits(findings.timeline, findings.elements))
        return None if edit is None else edit.at
    return findings.places.pause_at(name) if name.kind == "pause" else findings.places.frame(name.first)
