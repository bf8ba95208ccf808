"""What the editor has changed by hand in a passed project, taken up as choices."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from mltassist.choices.kinds import Choice, Choices, JoinChoice, ShotChoice, row_fields
from mltassist.choices.naming import Anchor, Name, read_name
from mltassist.cutaways.kept import changed_by_hand, earlier_cover
from mltassist.findings import Findings
from mltassist.frames import Span, format_timecode
from mltassist.plans import Note
from mltassist.timeline.changes import Nudged, name_of, side_of
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.model import Clip, Timeline


@dataclass(frozen=True, slots=True)
class Adopted:
    """Choices with what was taken up. rows: these alone; notes: each of them in words, with its place."""

    choices: Choices
    rows: tuple[Choice, ...]
    notes: tuple[Note, ...]

    def as_dict(self) -> dict[str, Any]:
        """What was taken up as plain data, in the form of docs/formats.md."""
        return {
            "version": 1,
            "adopted": [dict(row_fields(row)) for row in self.rows],
            "notes": [{"text": n.text, "at": n.at, "needs_editor": n.needs_editor} for n in self.notes],
        }


def adopted(findings: Findings, original: Findings | None, choices: Choices) -> Adopted:
    """What was changed by hand since the pass. original: the film before it, if it is at hand."""
    rows: list[Choice] = []
    notes: list[Note] = []
    found: list[tuple[Choice, int, str]] = [*_shots(findings), *_joins(findings, original)]
    for row, at, what in found:
        rows.append(replace(row, about=what))
        notes.append(Note(what, at))
    return Adopted(choices.put(*rows), tuple(rows), tuple(notes))


def _shots(findings: Findings) -> Iterator[tuple[ShotChoice, int, str]]:
    """Shots that were swapped, shortened, moved or deleted."""
    timeline, places = findings.timeline, findings.places
    changed = tuple(changed_by_hand(timeline, "cover"))
    for span, name in earlier_cover(timeline).deleted:
        yield ShotChoice(places.shot(span), "face stays"), span.start, f"{name!r} was deleted: the face stays"
    gone = tuple(_gone(timeline))
    for clip in changed:
        was = _was(clip, gone)
        own = clip.span if was is None else was
        choice = ShotChoice(
            places.shot(own),
            "other clip",
            places.called(clip.source.key),
            clip.source_in,
            clip.start - own.start,
            clip.span.end - own.end,
        )
        yield choice, clip.start, f"{clip.name!r} was laid or changed by hand"


def _gone(timeline: Timeline) -> Iterator[Span]:
    """Where shots of the pass would lie now that are not there as they were left."""
    track = timeline.of_role("cover")
    there = {_shown(clip): clip.start for clip in track.clips()} if track is not None else {}
    by = 0
    for row in sorted(row for row in timeline.laid or () if row.role == "cover"):
        at = there.get((row.file, row.source_in, row.length))
        if at is None:
            yield Span(row.start + by, row.start + by + row.length)
        else:
            by = at - row.start  # the film before it has become so much longer


def _shown(clip: Clip) -> tuple[str, int, int]:
    return name_of(clip), clip.source_in, clip.length


def _was(clip: Clip, gone: Iterable[Span]) -> Span | None:
    """The place of the shot that a clip was, or lies in place of; None where there was none."""
    over = [span for span in gone if span.overlaps(clip.span)]
    return max(over, key=lambda span: (span.shared(clip.span).length, -span.start), default=None)


def _joins(findings: Findings, original: Findings | None) -> Iterator[tuple[JoinChoice, int, str]]:
    """Joins that were moved otherwise than the pass has moved them."""
    edits = speech_edits(findings.timeline, findings.elements)
    ours = {
        side for change in findings.timeline.changes if isinstance(change, Nudged) for side in change.sides
    }
    moved = dict(_moved_by_us(findings))
    names = dict.fromkeys(moved) if original is None else _names(original)
    for text, name in _readable(names):
        edit = findings.places.join_of(name, edits)
        if edit is None or edit.kind is CutKind.DISSOLVED or name.last is None:
            continue
        last, first = edit.before.source_frame(edit.before.span.end - 1), edit.after.source_in
        by = last - name.first.frame, first - name.last.frame
        if side_of(edit.before, edit.after) in ours or (by == (0, 0) and text not in moved):
            continue
        at = format_timecode(edit.at, findings.timeline.rate)
        if by == (0, 0):
            yield JoinChoice(text, "left"), edit.at, f"the join at {at} was moved back by hand"
        else:
            told = f"the join at {at} was moved by hand, by {by[0]:+d} and {by[1]:+d} frames"
            yield JoinChoice(text, "moved", *by), edit.at, told


def _names(original: Findings) -> dict[str, None]:
    edits = speech_edits(original.timeline, original.elements)
    return dict.fromkeys(original.places.join(edit) for edit in edits)


def _moved_by_us(findings: Findings) -> Iterator[tuple[str, tuple[int, int]]]:
    """Names that the joins had which the pass has moved."""
    for change in findings.timeline.changes:
        for side in change.sides if isinstance(change, Nudged) else ():
            first = Anchor(side.file, side.last - change.before_by)
            last = Anchor(side.next_file, side.first - change.after_by)
            yield str(Name("join", first, last)), (change.before_by, change.after_by)


def _readable(names: Iterable[str]) -> Iterator[tuple[str, Name]]:
    for text in names:
        name = read_name(text)
        if name is not None:
            yield text, name
