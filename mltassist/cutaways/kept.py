"""What an earlier cover left on the timeline, for a run that keeps what it can of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from mltassist.choices.naming import read_name
from mltassist.cutaways.planner.film import CoverTask, Frames, Shot, Used
from mltassist.cutaways.planner.givenup import given_up
from mltassist.cutaways.planner.plan import Cover
from mltassist.cutaways.planner.stable import Placed
from mltassist.findings import Findings
from mltassist.frames import Span, format_timecode
from mltassist.plans import Plan
from mltassist.timeline.earlier import Earlier, earlier_of
from mltassist.timeline.edits import LayShot
from mltassist.timeline.model import Clip, Laid, Timeline
from mltassist.timeline.moves import Moves


@dataclass(frozen=True, slots=True)
class EarlierCover:
    """Shots of an earlier run that lie there still, and places and names of those deleted by hand."""

    shots: tuple[Placed, ...] = ()
    deleted: tuple[tuple[Span, str], ...] = ()
    changed: bool = False
    """True where it does not lie there as it was left."""

    @property
    def left_open(self) -> tuple[Span, ...]:
        """The places that stay as they are."""
        return tuple(span for span, _ in self.deleted)

    def moved(self, moves: Moves) -> EarlierCover:
        """The same where edits have moved it; what they open in its middle is not kept."""
        shots = []
        for shot in self.shots:
            span = _moved(shot.span, moves)
            if span.length == shot.span.length:
                shots.append(replace(shot, span=span))
        deleted = tuple((_moved(span, moves), name) for span, name in self.deleted)
        return EarlierCover(tuple(shots), deleted, self.changed or tuple(shots) != self.shots)

    def kept_in(self, shots: Iterable[Shot]) -> int:
        """How many of the earlier shots are among these."""
        return len({Placed.of(shot) for shot in shots} & set(self.shots))

    def resting(self, findings: Findings, task: CoverTask) -> CoverTask:
        """The task where the clips of deleted shots rest around their places as if they still lay there."""
        keys = {Path(clip.source.key).name: clip.source.key for clip in findings.timeline.bin}
        rests = (Used(keys.get(file, file), Span(0, 0), span) for span, file in self.deleted)
        return replace(task, used=(*task.used, *rests))

    def note(self, findings: Findings) -> None:
        """Tell of every shot that was deleted by hand."""
        names = {Path(clip.source.key).name: clip.name for clip in findings.timeline.bin}
        for span, file in self.deleted:
            name = names.get(file, file)
            told = f"{name!r} was deleted here by hand: no other shot is laid in its place (--anew lays one)"
            findings.note(told, span.start)

    def note_given_up(
        self, findings: Findings, task: CoverTask, rules: Frames, cover: Cover
    ) -> list[dict[str, Any]]:
        """Tell of every shot that is laid no more, and why; gives the same as figures."""
        names, rate = {clip.source.key: clip.name for clip in findings.timeline.bin}, findings.timeline.rate
        made_of = ("given up", task, rules, self.shots, cover.shots)
        lost = findings.run.memory.get(made_of, lambda: tuple(given_up(task, rules, self.shots, cover)))
        rows = []
        for one in lost:
            at, why = one.shot.span.start, one.why
            if one.rule is not None:
                why = f"with it, {why} ({format_timecode(one.rule.at, rate)})"
            name = names.get(one.shot.source, one.shot.source)
            findings.note(f"{name!r} of an earlier run is laid here no more: {why}", at)
            rows.append({"at": at, "timecode": format_timecode(at, rate), "clip": name, "why": why})
        return rows


@dataclass(frozen=True, slots=True)
class Settled:
    """A shot of another plan of the same film. name: of its place; length: in frames."""

    name: str
    source: str
    source_in: int
    length: int


def settled_in(plan: Plan) -> tuple[Settled, ...]:
    """The shots of a cover that was planned."""
    return tuple(
        Settled(edit.decision, edit.source, edit.source_in, edit.length)
        for edit in plan.edits
        if isinstance(edit, LayShot) and edit.track == "cover"
    )


def placed_now(findings: Findings, settled: Iterable[Settled]) -> Iterator[Placed]:
    """Where these shots lie in this film, but for those in whose middle it has changed."""
    for shot in settled:
        name = read_name(shot.name)
        span = None if name is None else findings.places.span(name)
        if span is not None and span.length == shot.length:
            yield Placed(span, shot.source, shot.source_in)


def _moved(span: Span, moves: Moves) -> Span:
    return Span(moves.frame(span.start), moves.frame(span.end - 1) + 1)


def _compared(timeline: Timeline, role: str) -> Earlier:
    track = timeline.of_role(role)
    if track is None or timeline.laid is None:
        return Earlier()
    return earlier_of(timeline.laid, (_row(role, clip) for clip in track.clips()), role)


def _row(role: str, clip: Clip) -> Laid:
    return Laid(role, clip.start, clip.length, Path(clip.source.key).name, clip.source_in)


def earlier_cover(timeline: Timeline) -> EarlierCover:
    """What is left of an earlier cover; nothing where the document does not tell what that was."""
    found, track = _compared(timeline, "cover"), timeline.of_role("cover")
    kept, clips = set(found.kept), () if track is None else tuple(track.clips())
    shots = (
        Placed(clip.span, clip.source.key, clip.source_in) for clip in clips if _row("cover", clip) in kept
    )
    deleted = ((Span(row.start, row.start + row.length), row.file) for row in found.deleted)
    left = {row for row in timeline.laid or () if row.role == "cover"}
    return EarlierCover(tuple(shots), tuple(deleted), changed=left != {_row("cover", clip) for clip in clips})


def changed_by_hand(timeline: Timeline, role: str) -> Iterator[Clip]:
    """Clips on our track that are not as we left them; those that moved with the film are."""
    kept = set(_compared(timeline, role).kept)
    yield from (clip for clip in timeline.changed_by_hand(role) if _row(role, clip) not in kept)
