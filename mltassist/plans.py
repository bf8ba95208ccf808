"""A plan: edits with their reasons, what to check, and the figures that show what it does."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import MISSING, asdict, dataclass, field, fields, replace
from itertools import pairwise
from math import isfinite
from pathlib import Path
from typing import Any

from mltassist.errors import ProjectError
from mltassist.frames import Rate, format_timecode
from mltassist.project import Project
from mltassist.timeline.edits import EDITS, AddTrack, Edit, counts_tracks, tracks_made
from mltassist.timeline.moves import Moves, back_of, moves_of_all

FORMAT = "mltassist-plan"
VERSION = 1


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
    figures: what was found and measured, by name (docs/formats.md), plain numbers, text and lists.
    """

    command: str
    project: Path
    rate: Rate
    edits: tuple[Edit, ...] = ()
    notes: tuple[Note, ...] = ()
    figures: Mapping[str, Any] = field(default_factory=dict)

    @property
    def needs_editor(self) -> bool:
        """True when something in it needs the editor."""
        return any(note.needs_editor for note in self.notes)

    def keep(self, wanted: Callable[[Edit], bool]) -> Plan:
        """The plan with only the edits that `wanted` accepts.

        Where a pause is left out, what lay inside it is left out too, and all that follows moves back;
        so it does where a join is not moved. A track that edits left out would have made is made empty where
        later edits count on its number.
        Notes move with what follows, and those inside a pause that is left out go with it; the others stay,
        since what they warn of may be there still, and one more note says that they speak of the whole plan.
        Figures of the whole plan no longer hold: there are none. A plan of which nothing is left out stays
        as it is.
        """
        left: list[Edit] = []
        back = Moves()
        for edit in self.edits:
            now = back.edit(edit)
            if now is not None and (isinstance(edit, AddTrack) or wanted(edit)):
                left.append(now)
                back = back.past(edit)
            else:
                left += _empty_tracks(edit)
                back = back_of(edit).then(back)
        edits = tuple(_with_tracks_needed(left))
        if edits == self.edits:
            return self
        notes = _moved(self.notes, back) | {LEFT_OUT: None}
        return replace(self, edits=edits, notes=tuple(notes), figures={})

    def apply(self, project: Project) -> Project:
        """A new project in which the edits are carried out."""
        return project.with_edits(self.edits)

    def to_json(self) -> str:
        """The plan as JSON text."""
        return json.dumps(self.as_dict(), ensure_ascii=False, indent=2) + "\n"

    def as_dict(self) -> dict[str, Any]:
        """The plan as plain data, in the form of docs/formats.md."""
        return {
            "format": FORMAT,
            "version": VERSION,
            "command": self.command,
            "project": str(self.project),
            "rate": [self.rate.numerator, self.rate.denominator],
            "edits": [{"edit": type(edit).__name__, **asdict(edit)} for edit in self.edits],
            "notes": [asdict(note) for note in self.notes],
            "figures": dict(self.figures),
        }


def notes_after(notes: Iterable[Note], edits: Iterable[Edit]) -> dict[Note, None]:
    """The notes where their places lie after edits: a note speaks of the result, and stays with its join."""
    return _moved(notes, moves_of_all(edits))


def _moved(notes: Iterable[Note], moves: Moves) -> dict[Note, None]:
    """The notes where their places lie then; those that have none are left out."""
    places = {note: None if note.at is None else moves.mark(note.at) for note in notes}
    return {replace(note, at=at): None for note, at in places.items() if note.at is None or at is not None}


def unmoved_subtitles(project: Project) -> dict[Note, None]:
    """A note for all subtitles that the edits on a project should have moved, and could not read."""
    told = "they cannot be read as subtitles: their times were not moved with the film; move them by hand"
    return {Note(f"{name}: {told}", needs_editor=True): None for name in project.document.unmoved}


LEFT_OUT = Note("edits were left out of this plan: its other notes were made for the whole of it")
"""What is said of a plan of which not all edits are kept."""


def _empty_tracks(edit: Edit) -> Iterator[AddTrack]:
    """What stands for an edit that is left out, as far as its tracks are counted."""
    for role in tracks_made(edit):
        yield AddTrack(role, "later edits count on it")


def _with_tracks_needed(edits: Sequence[Edit]) -> Iterator[Edit]:
    """The edits without the tracks that are there already, or on whose number nothing counts."""
    last = max((place for place, edit in enumerate(edits) if counts_tracks(edit)), default=-1)
    made: set[str] = set()
    for place, edit in enumerate(edits):
        if not isinstance(edit, AddTrack) or (place < last and edit.role not in made):
            made.update(tracks_made(edit))
            yield edit


def read_edits(text: str, name: str = "plan") -> tuple[Edit, ...]:
    """The edits of a saved plan. Raises ProjectError when it is not one that this version knows.

    Every field is checked, since a plan may have been changed by hand: its error names the edit by its
    place in the list, counted from 1, and the field.
    """
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        why = str(error) if isinstance(error, ValueError) else "it is nested too deeply"
        raise ProjectError(name, f"is not a plan ({why})", _AGAIN) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise ProjectError(name, "is not a plan", _AGAIN)
    if data.get("version") != VERSION:
        raise ProjectError(name, f"is not a plan of version {VERSION}", _AGAIN)
    if not isinstance(data.get("edits"), list):
        raise ProjectError(name, "is a plan without a list of edits", _AGAIN)
    edits = []
    for number, item in enumerate(data["edits"], 1):
        try:
            edits.append(_edit(item))
        except ValueError as error:
            raise ProjectError(name, f"edit {number}{error}", f"mend it, or {_AGAIN}") from None
    return tuple(edits)


_AGAIN = "make it again with --plan"
_KINDS = {kind.__name__: kind for kind in EDITS}
_FORMS = {
    "str": "text",
    "int": "a whole number",
    "float": "a number",
    "tuple[int, ...]": "a list of whole numbers",
    "tuple[tuple[int, float], ...]": "a list of [whole number, number]",
}
"""How the types of an edit's fields are called."""
_MOST = 10**9
"""No frame and no level comes near it."""
_LEAST = {"at": 0, "length": 1, "track": 0, "lead": 0, "trail": 0, "fade_in": 0, "fade_out": 0}


def _edit(item: object) -> Edit:
    """One edit. Raises ValueError with what is wrong, as it goes on after the edit's number."""
    if not isinstance(item, dict):
        raise ValueError(f" is {_shown(item)}, not an object")
    kind = _KINDS.get(str(item.get("edit")))
    if kind is None:
        raise ValueError(f": there is no kind of edit called {_shown(item.get('edit'))}")
    known = {f.name: f for f in fields(kind)}
    where = f" ({kind.__name__}): "
    for field_name in sorted(item.keys() - known.keys() - {"edit"}):
        raise ValueError(f"{where}it has no field {_shown(field_name)}")
    values = {}
    for field_name, known_field in known.items():
        if field_name not in item:
            if known_field.default is MISSING:
                raise ValueError(f"{where}its field {field_name!r} is missing")
            continue
        value = values[field_name] = _frozen(item[field_name])
        if not _is_of(value, form := str(known_field.type)):
            raise ValueError(f"{where}{field_name!r} is {_shown(item[field_name])}, not {_FORMS[form]}")
        if type(value) in (int, float) and abs(value) > _MOST:
            raise ValueError(f"{where}{field_name!r} is {_shown(value)}, out of all reach")
        if form == "int" and value < _LEAST.get(field_name, value):
            raise ValueError(f"{where}{field_name!r} is {value}, less than {_LEAST[field_name]}")
        if field_name == "keys" and not value:
            raise ValueError(f"{where}{field_name!r} is empty")
        if field_name == "keys" and any(b[0] <= a[0] for a, b in pairwise(value)):
            raise ValueError(f"{where}the frames of {field_name!r} do not rise")
        if field_name == "keys" and any(abs(number) > _MOST for key in value for number in key):
            raise ValueError(f"{where}{field_name!r} holds numbers out of all reach")
    return kind(**values)


def _is_of(value: Any, form: str) -> bool:  # noqa: ANN401  (JSON holds anything)
    """True for a value of a field of this type; a whole number with a point is no frame."""
    match form:
        case "str":
            return isinstance(value, str)
        case "int":
            return type(value) is int
        case "float":
            return type(value) is int or (type(value) is float and isfinite(value))
        case "tuple[int, ...]":
            return isinstance(value, tuple) and all(_is_of(part, "int") for part in value)
        case _:
            return isinstance(value, tuple) and all(
                isinstance(part, tuple)
                and len(part) == 2
                and _is_of(part[0], "int")
                and _is_of(part[1], "float")
                for part in value
            )


def _shown(value: object) -> str:
    """A value as JSON writes it, cut short."""
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 40 else f"{text[:39]}…"


def _frozen(value: Any) -> Any:  # noqa: ANN401  (JSON holds anything)
    return tuple(_frozen(part) for part in value) if isinstance(value, list) else value
