"""Where frames, tracks and clips lie once edits are made or left out: the one map for all who ask it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from mltassist.frames import Span
from mltassist.timeline import edits as kinds
from mltassist.timeline.edits import (
    ClosePause,
    Edit,
    FadeJoin,
    NudgeJoin,
    OpenPause,
    SetLevelCurve,
    span_of,
)
from mltassist.timeline.model import Clip, Timeline, Track
from mltassist.timeline.wholes import uncut

FAR = 10**9
"""More frames than any film has."""
Place = tuple[int, int]
"""A clip as (number of its track, first frame)."""


class _Stretch(NamedTuple):
    """From frame `first` up to the next stretch all lies `by` frames later; before the first nothing moves.

    source_by: what begins at a join here begins so much later in its source. gone: it has no place there.
    """

    first: int
    by: int
    source_by: int = 0
    gone: bool = False


class _Step(NamedTuple):
    """What one edit moves: frames, with the clips there; marks of ours and what is laid.

    clips: where those begin, by their places before, that do not move with their frame. made: numbers of the
    tracks that have come in, as they are counted then, rising; gone: of those that were taken out, as before.
    """

    frames: tuple[_Stretch, ...] = ()
    marks: tuple[_Stretch, ...] = ()
    clips: Mapping[Place, int] = {}
    made: tuple[int, ...] = ()
    gone: tuple[int, ...] = ()

    def track(self, number: int) -> int:
        """The number of the track that had this one."""
        number -= sum(old < number for old in self.gone)
        for new in self.made:
            number += number >= new
        return number


@dataclass(frozen=True, slots=True)
class Moves:
    """Where what lies on a timeline lies after some edits; what is split lies where its beginning does."""

    steps: tuple[_Step, ...] = ()

    def frame(self, at: int) -> int:
        """Where the frame lies that was frame `at`, with the editor's markers and subtitles there."""
        for step in self.steps:
            at += _here(step.frames, at).by
        return at

    def gaps(self) -> Iterator[tuple[int, int]]:
        """(frame, frames that come in there; below zero: go before it), each as the one before leaves it."""
        for step in self.steps:
            if step.frames and step.frames[-1].by:
                yield step.frames[-1].first, step.frames[-1].by

    def mark(self, at: int) -> int | None:
        """The same for a mark of ours: one that speaks of a join goes with it. None: it has no place."""
        for step in self.steps:
            here = _here(step.marks, at)
            if here.gone:
                return None
            at += here.by
        return at

    def track(self, number: int) -> int:
        """The number of the track that had this one."""
        for step in self.steps:
            number = step.track(number)
        return number

    def clip(self, track: int, start: int) -> Place:
        """(track, start) of the clip that began there."""
        for step in self.steps:
            start = step.clips.get((track, start), start + _here(step.frames, start).by)
            track = step.track(track)
        return track, start

    def edit(self, edit: Edit) -> Edit | None:
        """A later edit as it is then; None where it has no place, as in a pause that is not opened.

        Of a curve the keys that have a place are left.
        """
        for step in self.steps:
            if isinstance(edit, kinds.ClearOurs | kinds.AddTrack | kinds.SetFilmGain | kinds.MarkClip):
                return edit
            way = step.frames if isinstance(edit, SetLevelCurve) else step.marks
            here, changed = _here(way, edit.at), dict[str, Any]()
            gone = _is_broken(way, span_of(edit) or Span(edit.at, edit.at + 1))
            match edit:
                case OpenPause():  # it may open where what has no place begins
                    gone = here.gone and here.first < edit.at
                case FadeJoin():
                    changed = {"source_in": edit.source_in + here.source_by}
                case kinds.LayShot() | kinds.LayUnder():  # across a join it plays so much more or less
                    ends = (_here(step.frames, edit.at + edit.length - 1), _here(step.frames, edit.at))
                    changed = {"length": max(1, edit.length + ends[0].by - ends[1].by)}
                case SetLevelCurve():
                    keys = [(frame, gain, _here(way, frame)) for frame, gain in edit.keys]
                    left = {frame + there.by: gain for frame, gain, there in keys if not there.gone}
                    changed = {"keys": tuple(sorted(left.items()))}
                    # A fade is for the clip's end as a pause has left it.
                    over = edit.what == "fade" and _is_broken(way, Span(edit.at, keys[-1][0] + 1))
                    gone = gone or over or not left
            if gone:
                return None
            edit = replace(edit, at=edit.at + here.by, **changed)
        return edit

    def then(self, later: Moves) -> Moves:
        """Both, one after the other."""
        return Moves(self.steps + later.steps)

    def past(self, edit: Edit) -> Moves:
        """The same map for what lies on the timeline after `edit`, which has a place in the other as well."""
        match edit:
            case OpenPause() | ClosePause():
                by = edit.length if isinstance(edit, OpenPause) else -edit.length
            case NudgeJoin():
                by = edit.shift
            case _:
                return self
        at, steps = edit.at, []
        for step in self.steps:
            inside = _here(step.marks, at).by
            frames, marks = (_past(way, at, by, inside) for way in step[:2])
            steps.append(step._replace(frames=frames, marks=marks))
            at += inside
        return Moves(tuple(steps))


def moves_of(edit: Edit, before: Timeline | None = None, after: Timeline | None = None) -> Moves:
    """What an edit moves.

    before: the timeline it is made on; without it clips that run on through a pause are told to move with
    their frames. after: the one it leaves, which tells where the host has put new tracks of ours, and which
    are gone.
    """
    match edit:
        case OpenPause(at=at, length=by):
            runs = () if before is None else runs_through(before, edit.run_on, at)
            clips = {
                (track.index, clip.start): clip.start + min(by, spare) * (number > 0)
                for track, pieces, spare in runs
                for number, clip in enumerate(pieces)
            }
            return Moves((_Step((_Stretch(at, by),), (_Stretch(at, by),), clips),))
        case ClosePause(at=at, length=by):
            # What lay in it has no place; whoever has to have one is where it was.
            way = (*(_Stretch(at + n, -n) for n in range(by)), _Stretch(at + by, -by))
            return Moves((_Step(way, (_Stretch(at, 0, gone=True), _Stretch(at + by, -by))),))
        case NudgeJoin(at=at, shift=by):
            marks = (_Stretch(at, edit.before_by, edit.after_by), _Stretch(at + 1, by))
            clips = {(track, at): edit.joined_at for track in edit.tracks}
            return Moves((_Step((_Stretch(at, by),), marks, clips),))
    if before is None or after is None:
        return Moves()
    made = tuple(t.index for t in after.tracks if t.ours and before.of_role(t.ours) is None)
    gone = tuple(t.index for t in before.tracks if t.ours and after.of_role(t.ours) is None)
    return Moves((_Step(made=made, gone=gone),) if made or gone else ())


def moves_of_all(edits: Iterable[Edit]) -> Moves:
    """What edits move that are made one after the other, as far as they tell themselves."""
    return Moves(tuple(step for edit in edits for step in moves_of(edit).steps))


def back_of(edit: Edit) -> Moves:
    """The way back to where things lay before an edit; what lies in an opened pause has no place there."""
    match edit:
        case OpenPause(at=at, length=by):
            way = (_Stretch(at, 0, gone=True), _Stretch(at + by, -by))
            return Moves((_Step(way, way),))
        case ClosePause(at=at, length=by):
            return Moves((_Step((_Stretch(at, by),), (_Stretch(at, by),)),))
        case NudgeJoin(at=at, shift=by, joined_at=joined):
            frames = (*(_Stretch(at + n, -n) for n in range(by)), _Stretch(at + by, -by))
            # What the clip after the join has shown more of has no place but the join.
            shown = max(0, -edit.after_by) + 1
            at_join = (_Stretch(joined + n, at - joined - n, -edit.after_by) for n in range(shown))
            marks = (*at_join, _Stretch(joined + shown, -by))
            return Moves((_Step(frames, marks, {(track, joined): at for track in edit.tracks}),))
    return Moves()


def runs_through(
    timeline: Timeline, tracks: Iterable[int], at: int
) -> Iterator[tuple[Track, tuple[Clip, ...], int]]:
    """What runs on through a pause at a frame on these tracks, and the frames its source has to spare.

    Of a clip that was cut with nothing removed the pieces from the one at the place, which stays, on.
    """
    for track in (track for track in timeline.tracks if track.index in tracks):
        for run in uncut(track):
            if run[0].start < at < run[-1].span.end:
                yield track, tuple(clip for clip in run if clip.span.end > at), spare_of(run[-1])


def spare_of(clip: Clip) -> int:
    """Frames that a clip could play on after its end; FAR where nobody knows how long its source is.

    At a speed of its own it needs more or less of its source for each, backward what lies before; where
    the speed changes it goes on to the last point that is set.
    """
    whole = clip.source.length
    if clip.plain_speed or not whole:
        return max(0, whole - clip.source_in - clip.length) if whole else FAR
    if clip.speed == 1:
        return max(0, clip.remap[-1][0] - clip.length)
    shown = clip.source_frame(clip.span.end)
    left = shown if clip.speed < 0 else whole - 1 - shown
    return max(0, int(left / abs(clip.speed) // 1) + 1)


def _here(way: tuple[_Stretch, ...], frame: int) -> _Stretch:
    return next((stretch for stretch in reversed(way) if stretch.first <= frame), _Stretch(0, 0))


def _is_broken(way: tuple[_Stretch, ...], span: Span) -> bool:
    """True when frames of a span have no place."""
    return any(s.gone for s in (_here(way, span.start), *(s for s in way if s.first in span)))


def _past(way: tuple[_Stretch, ...], at: int, by: int, inside: int) -> tuple[_Stretch, ...]:
    """The way where `by` frames more lie from `at` on; those come to lie `inside` frames later."""
    return (
        *(stretch for stretch in way if stretch.first < at),
        _Stretch(at, inside),
        _here(way, at)._replace(first=at + max(0, by)),
        *(stretch._replace(first=max(at, stretch.first + by)) for stretch in way if stretch.first > at),
    )
