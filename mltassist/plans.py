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
from mltassist.frames import Rate, Span, format_timecode
from mltassist.project import Project
from mltassist.timeline.edits import (
    EDITS,
    AddGuide,
    AddTrack,
    Edit,
    FadeJoin,
    NudgeJoin,
    OpenPause,
    SetLevelCurve,
    counts_tracks,
    moved,
    span_of,
    tracks_made,
)

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
        # The places of notes are those of the result: they move as guides would that are added last.
        places = [
            AddGuide(note.at, str(n), _NOTE) for n, note in enumerate(self.notes) if note.at is not None
        ]
        pending: list[Edit] = [*self.edits, *places]
        while pending:
            edit = pending.pop(0)
            if isinstance(edit, AddTrack) or _is_place(edit) or wanted(edit):
                left.append(edit)
                continue
            left += _empty_tracks(edit)
            if isinstance(edit, OpenPause):
                pending = list(_unopened(Span(edit.at, edit.at + edit.length), pending))
            elif isinstance(edit, NudgeJoin):
                pending = [_unnudged(later, edit) for later in pending]
        edits = tuple(_with_tracks_needed([edit for edit in left if not _is_place(edit)]))
        if edits == self.edits:
            return self
        at = {int(edit.text): edit.at for edit in left if isinstance(edit, AddGuide) and _is_place(edit)}
        notes = [
            replace(note, at=at.get(number))
            for number, note in enumerate(self.notes)
            if note.at is None or number in at
        ]
        return replace(self, edits=edits, notes=tuple(dict.fromkeys([*notes, LEFT_OUT])), figures={})

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


def _unnudged(later: Edit, nudge: NudgeJoin) -> Edit:
    """An edit made after a join was moved, as it is where that join stays, with the marks at it."""
    if isinstance(later, FadeJoin) and later.at == nudge.joined_at:
        return replace(later, at=nudge.at, source_in=later.source_in - nudge.after_by)
    if isinstance(later, AddGuide) and later.at == nudge.joined_at:
        return replace(later, at=nudge.at)
    return moved(later, nudge.joined_at, -nudge.shift)


def notes_after(notes: Iterable[Note], edits: Iterable[Edit]) -> dict[Note, None]:
    """The notes where their places lie once pauses are open and joins moved: a note speaks of the result."""
    for edit in edits:
        if isinstance(edit, OpenPause | NudgeJoin):
            notes = [_moved(note, edit) for note in notes]
    return dict.fromkeys(notes)


def _moved(note: Note, edit: OpenPause | NudgeJoin) -> Note:
    """The note where its place lies after the edit; what speaks of a join goes where the join goes."""
    if note.at is None or note.at < edit.at:
        return note
    if isinstance(edit, OpenPause):
        return replace(note, at=note.at + edit.length)
    return replace(note, at=edit.joined_at if note.at == edit.at else note.at + edit.shift)


def unmoved_subtitles(project: Project) -> dict[Note, None]:
    """A note for all that edits on a project should have moved, subtitles or others, and could not read."""
    unmoved = project.document.unmoved
    return {Note(f"{name}: {told}", needs_editor=True): None for name, told in unmoved.items()}


LEFT_OUT = Note("edits were left out of this plan: its other notes were made for the whole of it")
"""What is said of a plan of which not all edits are kept."""
_NOTE = "the place of a note"


def _is_place(edit: Edit) -> bool:
    return isinstance(edit, AddGuide) and edit.reason is _NOTE


def _unopened(pause: Span, following: Iterable[Edit]) -> Iterator[Edit]:
    """What follows a pause, as if it had not been opened; pauses opened later move or widen its place."""
    for edit in following:
        if isinstance(edit, OpenPause) and edit.at <= pause.start:
            pause = pause.shifted(edit.length)
            yield edit
        elif isinstance(edit, OpenPause) and edit.at < pause.end:
            pause = pause.grown(0, edit.length)
        elif isinstance(edit, SetLevelCurve) and edit.what == "fade" and _lies_across(edit, pause):
            continue  # it is for the clip's end as the pause has left it
        elif isinstance(edit, SetLevelCurve):
            keys = tuple(key for key in edit.keys if key[0] not in pause)
            if edit.at not in pause and keys:
                yield moved(replace(edit, keys=keys), pause.end, -pause.length)
        elif _inside(edit, pause):
            yield from _empty_tracks(edit)
        else:
            yield moved(edit, pause.end, -pause.length)


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


def _lies_across(curve: SetLevelCurve, pause: Span) -> bool:
    return curve.at < pause.start and curve.keys[-1][0] >= pause.start


def _inside(edit: Edit, pause: Span) -> bool:
    span = span_of(edit)
    if span is None:
        return isinstance(edit, AddGuide) and edit.at in pause
    return span.overlaps(pause)


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
