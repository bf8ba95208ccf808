"""Where frames, tracks and clips lie once edits are made: the one map that all who ask it use."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from mltassist.timeline.edits import Edit, NudgeJoin, OpenPause
from mltassist.timeline.model import Timeline
from mltassist.timeline.wholes import uncut

Place = tuple[int, int]
"""A clip as (number of its track, first frame)."""


@dataclass(frozen=True, slots=True)
class _Step:
    """What one edit moves: all from frame `at` on lies `by` frames later, but for what stands at a join.

    joined: where that join lies. clips: by their places before the edit, where those begin that do not move
    with their frame. made: numbers of the tracks that have come in, as they are counted with them.
    """

    at: int = 0
    by: int = 0
    joined: int | None = None
    clips: Mapping[Place, int] = field(default_factory=dict)
    made: tuple[int, ...] = ()

    def frame(self, at: int) -> int:
        return at + self.by if at >= self.at else at

    def mark(self, at: int) -> int:
        return self.frame(at) if self.joined is None or at != self.at else self.joined

    def track(self, number: int) -> int:
        for new in self.made:
            number += number >= new
        return number


@dataclass(frozen=True, slots=True)
class Moves:
    """Where what lies on a timeline lies after some edits.

    What an edit takes away, or splits in two, keeps the place that its beginning would have.
    """

    steps: tuple[_Step, ...] = ()

    def frame(self, at: int) -> int:
        """Where the frame lies that was shown at frame `at`, with the editor's guides and subtitles there."""
        for step in self.steps:
            at = step.frame(at)
        return at

    def mark(self, at: int) -> int:
        """Where a mark of ours lies that stood at frame `at`: what speaks of a join goes with the join."""
        for step in self.steps:
            at = step.mark(at)
        return at

    def track(self, number: int) -> int:
        """The number of the track that had this one."""
        for step in self.steps:
            number = step.track(number)
        return number

    def clip(self, track: int, start: int) -> Place:
        """(track, start) of the clip that began there."""
        for step in self.steps:
            moved = step.clips.get((track, start))
            track, start = step.track(track), step.frame(start) if moved is None else moved
        return track, start

    def then(self, later: Moves) -> Moves:
        """Both, one after the other."""
        return Moves((*self.steps, *later.steps))


def moves_of(edit: Edit, before: Timeline | None = None, after: Timeline | None = None) -> Moves:
    """What an edit moves.

    before: the timeline that it is made on, which tells what music that runs on through a pause has to
    spare. after: the one that it leaves, where it may have made tracks: each host has its own place for
    them.
    """
    made: tuple[int, ...] = ()
    if before is not None and after is not None:
        # In rising order: each is counted with those below it.
        made = tuple(track.index for track in after.tracks if track.ours and not before.of_role(track.ours))
    match edit:
        case OpenPause():
            return pause_moves(edit, {} if before is None else dict(_running_on(edit, before)))
        case NudgeJoin(at=at, joined_at=joined):
            clips = {(track, at): joined for track in edit.tracks}
            return Moves((_Step(at, edit.shift, joined, clips),))
        case _:
            return Moves((_Step(made=made),) if made else ())


def pause_moves(edit: OpenPause, running_on: Mapping[Place, int]) -> Moves:
    """What a pause moves; `running_on`: by how much the clips move that run on through it."""
    clips = {(track, start): start + by for (track, start), by in running_on.items()}
    return Moves((_Step(edit.at, edit.length, None, clips),))


def moves_of_all(edits: Iterable[Edit]) -> Moves:
    """What edits move that are made one after the other; clips that run on through pauses aside."""
    return Moves(tuple(step for edit in edits for step in moves_of(edit).steps))


def _running_on(edit: OpenPause, timeline: Timeline) -> Iterator[tuple[Place, int]]:
    """Clips that play on through a pause, from the one at its place, each with the frames it moves."""
    for track in timeline.tracks:
        for run in uncut(track) if track.index in edit.run_on else ():
            last = run[-1]
            if not run[0].start < edit.at < last.span.end:
                continue
            spare = max(0, last.source.length - last.source_in - last.length)
            by = min(edit.length, spare) if last.source.length else edit.length
            pieces = [clip for clip in run if clip.span.end > edit.at]
            yield from (((track.index, clip.start), by if n else 0) for n, clip in enumerate(pieces))
