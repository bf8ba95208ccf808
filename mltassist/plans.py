"""A plan: edits with their reasons, what to check, and the figures that show what it does."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mltassist.choices.decisions import Decision
from mltassist.document.save import save_text
from mltassist.errors import PlanError
from mltassist.files import read_text
from mltassist.frames import Rate, format_timecode
from mltassist.timeline.edits import (
    HOSTS_PLACE,
    AddTrack,
    Edit,
    LayUnder,
    SetLevelCurve,
    counts_tracks,
    tracks_made,
)
from mltassist.timeline.figures import Figures
from mltassist.timeline.moves import Moves, back_of, moves_of_all
from mltassist.timeline.saved import FORMAT, VERSION, read_parts

if TYPE_CHECKING:
    from mltassist.project import Project  # whoever only keeps plans needs none of what it loads


@dataclass(frozen=True, slots=True)
class Note:
    """Something the editor should know.

    at: timeline frame of the result, None where it has no place. needs_editor: the work is not done
    until someone looks at it.
    """

    text: str
    at: int | None = None
    needs_editor: bool = False

    def told(self, rate: Rate) -> str:
        """The note with its timecode."""
        return self.text if self.at is None else f"{format_timecode(self.at, rate)}  {self.text}"


@dataclass(frozen=True, slots=True)
class Plan:
    """What one command would do to one project.

    edits: in order; the frames of each are those of the timeline as the edits before it leave it.
    figures: what was found and measured, by name (docs/formats.md) or by typed parts.
    decisions: what can be chosen otherwise, done or not. state: of the document that it was made for, as
    `Project.state` tells it. recipe: every rule it was made by, as plain data.
    """

    command: str
    project: Path
    rate: Rate
    edits: tuple[Edit, ...] = ()
    notes: tuple[Note, ...] = ()
    figures: Mapping[str, Any] | Figures = field(default_factory=Figures)
    decisions: tuple[Decision, ...] = ()
    state: str = ""
    recipe: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not isinstance(self.figures, Figures):
            object.__setattr__(self, "figures", Figures(self.figures))

    @property
    def found(self) -> Figures:
        """The figures with their typed parts: `plan.found.cover.jump_cuts_left`."""
        assert isinstance(self.figures, Figures)  # noqa: S101 - made so above
        return self.figures

    @property
    def needs_editor(self) -> bool:
        """True when something in it needs the editor."""
        return any(note.needs_editor for note in self.notes)

    def keep(self, wanted: Callable[[Edit], bool]) -> Plan:
        """The plan with only the edits that `wanted` accepts.

        Where a pause is left out, what lay inside it is left out too, and all that follows moves back;
        so it does where a join is not moved. The level curve of a kept sound goes with the sound.
        A track that edits left out would have made is made empty where
        later edits count on its number.
        Notes move with what follows, and those inside a pause that is left out go with it; the others stay,
        since what they warn of may be there still, and one more note says that they speak of the whole plan.
        Figures of the whole plan no longer hold: there are none. A plan of which nothing is left out stays
        as it is.
        """
        left: list[Edit] = []
        back = Moves()
        silent: set[tuple[int, str]] = set()
        for edit in self.edits:
            now = None if _lies_on(edit, silent) else back.edit(edit)
            if now is not None and (isinstance(edit, AddTrack) or wanted(edit)):
                left.append(now)
                back = back.past(edit)
            else:
                left += _empty_tracks(edit)
                if isinstance(edit, LayUnder):
                    silent.add((edit.at, edit.source))
                back = back_of(edit).then(back)
        edits = tuple(_with_tracks_needed(left))
        if edits == self.edits:
            return self
        notes = _moved(self.notes, back) | {LEFT_OUT: None}
        decisions = decisions_moved(self.decisions, back)
        return replace(self, edits=edits, notes=tuple(notes), figures={}, decisions=decisions)

    def apply(self, project: Project) -> Project:
        """A new project in which the edits are carried out."""
        return project.with_edits(self.edits)

    def need_state(self, project: Project) -> None:
        """Raise PlanError where the plan was made for another project, or another state of this one."""
        if self.state != project.state:
            what = f"it was made for another state of {project.path.name}, which has changed since"
            raise PlanError(project.path, [f"does not fit this plan: {what}"])

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> Plan:
        """A plan that was saved, or printed with `--json`. Raises PlanError naming every mistake."""
        try:
            text = read_text(Path(path))
        except (OSError, UnicodeDecodeError) as error:
            reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
            raise PlanError(path, [f"cannot be read ({reason})"]) from None
        return cls.parse(text, os.fspath(path))

    @classmethod
    def parse(cls, text: str, name: str = "plan") -> Plan:
        """A plan from its text; `name` stands in the errors. Raises PlanError naming every mistake."""
        edits, found = read_parts(text, name, {"notes": Note, "decisions": Decision})
        return cls(
            found["command"],
            Path(found["project"]),
            Rate(*found["rate"]),
            edits,
            found["notes"],
            found["figures"],
            found["decisions"],
            found["state"],
            found["recipe"],
        )

    def save(self, path: str | os.PathLike[str], *, force: bool = False) -> Path:
        """Write the plan as JSON: whole or not at all. Raises OutputError; `force` replaces another file."""
        return save_text(self.to_json(), Path(path), original=self.project, force=force)

    def to_json(self) -> str:
        """The plan as JSON text. Names of files that are not UTF-8 are escaped as JSON does."""
        text = json.dumps(self.as_dict(), ensure_ascii=False, indent=2) + "\n"
        return _NO_TEXT.sub(lambda found: f"\\u{ord(found[0]):04x}", text)

    def as_dict(self) -> dict[str, Any]:
        """The plan as plain data, in the form of docs/formats.md."""
        return {
            "format": FORMAT,
            "version": VERSION,
            "command": self.command,
            "project": str(self.project),
            "state": self.state,
            "rate": [self.rate.numerator, self.rate.denominator],
            "edits": [{"edit": type(edit).__name__, **asdict(edit)} for edit in self.edits],
            "notes": [asdict(note) for note in self.notes],
            "decisions": [asdict(one) for one in self.decisions],
            "figures": dict(self.figures),
            "recipe": dict(self.recipe),
        }


def notes_after(notes: Iterable[Note], edits: Iterable[Edit]) -> dict[Note, None]:
    """The notes where their places lie after edits: a note speaks of the result, and stays with its join."""
    return _moved(notes, moves_of_all(edits))


def _moved(notes: Iterable[Note], moves: Moves) -> dict[Note, None]:
    """The notes where their places lie then; those that have none are left out."""
    places = {note: None if note.at is None else moves.mark(note.at) for note in notes}
    return {replace(note, at=at): None for note, at in places.items() if note.at is None or at is not None}


def decisions_moved(decisions: Iterable[Decision], moves: Moves) -> tuple[Decision, ...]:
    """The decisions where their places lie then; those that have none are left out."""
    places = ((one, moves.mark(one.at)) for one in decisions)
    return tuple(replace(one, at=at) for one, at in places if at is not None)


def unmoved_subtitles(project: Project) -> dict[Note, None]:
    """A note for all that edits on a project should have moved, subtitles or others, and could not read."""
    unmoved = project.document.unmoved
    return {Note(f"{name}: {told}", needs_editor=True): None for name, told in unmoved.items()}


_NO_TEXT = re.compile("[\ud800-\udfff]")
LEFT_OUT = Note("edits were left out of this plan: its other notes were made for the whole of it")
"""What is said of a plan of which not all edits are kept."""


def _lies_on(edit: Edit, silent: Container[tuple[int, str]]) -> bool:
    """True for the curve of a clip of ours that is not laid."""
    return isinstance(edit, SetLevelCurve) and edit.what == "duck" and (edit.at, edit.source) in silent


def _empty_tracks(edit: Edit) -> Iterator[AddTrack]:
    """What stands for an edit that is left out, as far as its tracks are counted."""
    for role in tracks_made(edit):
        yield AddTrack(role, "later edits count on it")


def _with_tracks_needed(edits: Sequence[Edit]) -> Iterator[Edit]:
    """The edits without the tracks that are there already, or on whose number nothing counts."""
    last = max((place for place, edit in enumerate(edits) if counts_tracks(edit)), default=-1)
    made: set[str] = set()

    def filled(place: int, edit: AddTrack) -> bool:
        """True for a track that has a place of its own, and edits that lay something on it."""
        later = edits[place + 1 :] if edit.above != HOSTS_PLACE else ()
        return any(edit.role in tracks_made(one) for one in later if not isinstance(one, AddTrack))

    for place, edit in enumerate(edits):
        if not isinstance(edit, AddTrack) or (
            edit.role not in made and (place < last or filled(place, edit))
        ):
            made.update(tracks_made(edit))
            yield edit
