"""All that is ours taken out of a project, part by part."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

from mltassist.cutaways.beside import ROLES, clear_cover
from mltassist.cutaways.kept import changed_by_hand
from mltassist.errors import ProjectError
from mltassist.frames import Span
from mltassist.plans import Note, Plan, notes_after, unmoved_subtitles
from mltassist.project import Project
from mltassist.timeline.changes import Change, Nudged, Opened, join_of, pause_of
from mltassist.timeline.edits import ClearOurs, ClosePause, Edit, NudgeJoin
from mltassist.timeline.model import Timeline

PARTS = ("cover", "levels", "gain", "markers", "joins", "pauses")
"""What can be taken out: shots with all beside them; curves; the gain on the film; markers; all that was done
to joins, bites and holes; pauses with their natural sound."""
_LAID = frozenset(("cover", "joins", "pauses"))
"""Those of them that lie on tracks of ours, which go when nothing lies on them any more."""
WHY = "our work is taken out"


def plan_of_clearing(project: Project, parts: Collection[str]) -> Plan:
    """Plan to take these parts out. What was changed by hand since stays, and is told.

    Raises ProjectError for a part that there is not.
    """
    for part in parts:
        if part not in PARTS:
            raise ProjectError(project.path, f"no part of our work is called {part!r}", _KNOWN)
    notes: dict[Note, None] = {}
    edits: list[Edit] = []
    now = project
    for clearing in _cleared(project.timeline, parts, notes):
        left = now.with_edits([clearing])
        if left.state != now.state:  # a part that is not there is not told to be taken out
            edits.append(clearing)
            now = left
    for change in reversed(project.timeline.changes):
        if ("pauses" if isinstance(change, Opened) else "joins") not in parts:
            continue
        before = now.timeline
        edit = _undone(change, before)
        try:
            if edit is None:
                raise ProjectError(project.path, "it is not there any more as it was left")
            now = now.with_edits([edit])
        except ProjectError as error:
            notes[_left(change, now.timeline, str(error).removeprefix(f"{error.path}: "))] = None
            continue
        edits.append(edit)
        notes = notes_after(notes, [edit])
        if isinstance(edit, NudgeJoin) and _is_crowded(edit, before):
            notes[Note(CROWDED, edit.joined_at, needs_editor=True)] = None
    if any(track.ours and not track.locked and not any(track.clips()) for track in now.timeline.tracks):
        edits += [ClearOurs("tracks", WHY)] if _LAID.intersection(parts) else []
    notes |= unmoved_subtitles(now)
    rate = project.timeline.rate
    return Plan("clear", project.path, rate, tuple(edits), tuple(notes), state=project.state)


_KNOWN = f"these are: {', '.join(PARTS)}"


def _cleared(timeline: Timeline, parts: Collection[str], notes: dict[Note, None]) -> Iterator[ClearOurs]:
    if "cover" in parts:
        yield replace(clear_cover(timeline, keep_changed=True), reason=WHY)
        _note_changed(timeline, ROLES, notes)
    if "levels" in parts or "pauses" in parts:
        yield ClearOurs("levels", WHY)
        if "levels" not in parts:
            told = "levels under speech are taken out too: they were made for the film with its pauses"
            notes[Note(told)] = None
    if "pauses" in parts:
        roles = ("natural", "natural picture")
        kept = {clip.start for role in roles for clip in changed_by_hand(timeline, role)}
        yield ClearOurs("natural", WHY, tuple(sorted(kept)))
        _note_changed(timeline, roles, notes)
    for part in ("gain", "markers", "joins"):
        if part in parts:
            yield ClearOurs(part, WHY)


def _note_changed(timeline: Timeline, roles: Collection[str], notes: dict[Note, None]) -> None:
    for role in roles:
        for clip in changed_by_hand(timeline, role):
            notes[Note(f"{clip.name!r} was changed by hand and is left", clip.start)] = None


def _undone(change: Change, timeline: Timeline) -> Edit | None:
    """The edit that takes a change back; None where what it has left is not there any more."""
    if isinstance(change, Opened):
        at = pause_of(change, timeline)
        return None if at is None else ClosePause(at, change.length, WHY)
    found = join_of(change, timeline)
    if found is None:
        return None
    return NudgeJoin(found[0], found[1], -change.before_by, -change.after_by, WHY)


CROWDED = (
    "a join was moved back here: what lies within a few frames of it may lie some frames off; look at it"
)


def _is_crowded(edit: NudgeJoin, timeline: Timeline) -> bool:
    """True where cuts on other tracks or markers lie so near to a join that they may have moved otherwise."""
    near = abs(edit.before_by) + abs(edit.after_by)
    around = Span(edit.at - near, edit.at + near + 1)
    others = [track for track in timeline.tracks if not track.ours and track.index not in edit.tracks]
    ends = {frame for track in others for clip in track.clips() for frame in (clip.start, clip.span.end)}
    return any(frame in around for frame in (*ends, *(marker.at for marker in timeline.markers)))


def _left(change: Change, timeline: Timeline, why: str) -> Note:
    """What is told of a change that stays."""
    if isinstance(change, Nudged):
        side = change.sides[0] if change.sides else None
        files = "" if side is None else f" between {side.file!r} and {side.next_file!r}"
        by = f"{change.before_by:+d} and {change.after_by:+d} frames"
        return Note(f"the join{files} that was moved by {by} stays as it is: {why}", needs_editor=True)
    seconds = float(timeline.rate.seconds(change.length))
    at = min(change.at, timeline.length)
    return Note(f"the pause of {seconds:g} s that was opened here stays: {why}", at, needs_editor=True)
