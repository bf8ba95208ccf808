"""Edits as they are where earlier ones are left out: the way back through what those move."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

from mltassist.frames import Span
from mltassist.timeline.edits import (
    AddGuide,
    AddTrack,
    ClearOurs,
    Edit,
    FadeJoin,
    LayNatural,
    LayShot,
    LayTone,
    LayUnder,
    NudgeJoin,
    OpenPause,
    SetFilmGain,
    SetLevelCurve,
    span_of,
)


class _Stretch(NamedTuple):
    """From frame `first` up to the next stretch all lies `by` frames later; None: it has no place.

    source_by: a clip that begins at a join here begins so much later in its source.
    """

    first: int
    by: int | None
    source_by: int = 0


_Stretches = tuple[_Stretch, ...]


@dataclass(frozen=True, slots=True)
class _Step:
    """The way back through one edit: of marks and of all that is laid; of clips and the keys on them."""

    marks: _Stretches
    clips: _Stretches

    def edit(self, edit: Edit) -> Edit | None:
        match edit:
            case ClearOurs() | AddTrack() | SetFilmGain():
                return edit
            case SetLevelCurve():
                return self.curve(edit)
            case OpenPause():
                at = _placed(self.marks, edit.at)
                if at is None and (before := _placed(self.marks, edit.at - 1)) is not None:
                    at = before + 1  # it may open where what has no place begins
                return None if at is None else replace(edit, at=at)
            case FadeJoin():
                at, source_by = _placed(self.marks, edit.at), _lying(self.marks, edit.at).source_by
                return None if at is None else replace(edit, at=at, source_in=edit.source_in + source_by)
            case NudgeJoin() | LayTone() | LayShot() | LayNatural() | LayUnder() | AddGuide():
                at, span = _placed(self.marks, edit.at), span_of(edit)
                whole = span is None or _is_whole(self.marks, span)
                return replace(edit, at=at) if whole and at is not None else None

    def curve(self, edit: SetLevelCurve) -> SetLevelCurve | None:
        at = _placed(self.clips, edit.at)
        keys = {now: gain for frame, gain in edit.keys if (now := _placed(self.clips, frame)) is not None}
        # A fade is for the clip's end as a pause has left it.
        if edit.what == "fade" and not _is_whole(self.clips, Span(edit.at, edit.keys[-1][0] + 1)):
            return None
        return replace(edit, at=at, keys=tuple(keys.items())) if keys and at is not None else None

    def past(self, at: int, by: int, now: int) -> _Step:
        """The same once `by` frames more lie from `at` on, and from `now` on in the film led back to."""
        return _Step(*(_past(stretches, at, by, now) for stretches in (self.marks, self.clips)))


@dataclass(frozen=True, slots=True)
class Undone:
    """The way back from a film with some edits to the same film without them, the last of them first."""

    steps: tuple[_Step, ...] = ()

    def edit(self, edit: Edit) -> Edit | None:
        """A later edit as it is without them; None where it has no place, as in a pause that is not opened.

        What stands at a join stays at the join. Of a curve the keys that have a place are left.
        """
        now: Edit | None = edit
        for step in self.steps:
            now = None if now is None else step.edit(now)
        return now

    def without(self, edit: Edit) -> Undone:
        """The way back when the next edit is left out as well."""
        match edit:
            case OpenPause(at=at, length=by):
                gone = (_Stretch(at, None), _Stretch(at + by, -by))
                return Undone((_Step(gone, gone), *self.steps))
            case NudgeJoin(at=at, shift=by, joined_at=joined):
                marks = (_Stretch(joined, -edit.before_by, -edit.after_by), _Stretch(joined + 1, -by))
                clips = (*(_Stretch(at + n, -n) for n in range(by)), _Stretch(at + by, -by))
                return Undone((_Step(marks, clips), *self.steps))
            case _:
                return self

    def past(self, edit: Edit) -> Undone:
        """The way back when the next edit, which has a place without them, is kept."""
        steps: list[_Step] = []
        for step in self.steps:
            now = step.edit(edit)
            if not isinstance(edit, OpenPause | NudgeJoin) or not isinstance(now, OpenPause | NudgeJoin):
                return self
            by = edit.length if isinstance(edit, OpenPause) else edit.shift
            steps.append(step.past(edit.at, by, now.at))
            edit = now
        return Undone(tuple(steps))


def _lying(stretches: _Stretches, frame: int) -> _Stretch:
    return next((s for s in reversed(stretches) if s.first <= frame), _Stretch(0, 0))


def _placed(stretches: _Stretches, frame: int) -> int | None:
    by = _lying(stretches, frame).by
    return None if by is None else frame + by


def _is_whole(stretches: _Stretches, span: Span) -> bool:
    """True when every frame of a span has a place."""
    inside = [s for s in stretches if s.first in span]
    return all(s.by is not None for s in (_lying(stretches, span.start), *inside))


def _past(stretches: _Stretches, at: int, by: int, now: int) -> _Stretches:
    return (
        *(s for s in stretches if s.first < at),
        *([_Stretch(at, now - at)] if by > 0 else []),
        _lying(stretches, at)._replace(first=at + max(0, by)),
        *(s._replace(first=max(at, s.first + by)) for s in stretches if s.first > at),
    )
