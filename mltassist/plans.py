"""A plan: edits with their reasons, what to check, and the figures that show what it does."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from mltassist.frames import Rate, Span, format_timecode
from mltassist.project import Project
from mltassist.timeline.edits import (
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
from mltassist.timeline.saved import FORMAT, VERSION


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
