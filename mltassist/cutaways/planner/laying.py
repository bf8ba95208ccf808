"""A finished plan as edits, each with its reason in words."""

from __future__ import annotations

from mltassist.cutaways.planner.film import CoverTask, Shot
from mltassist.cutaways.planner.plan import Cover
from mltassist.frames import Span
from mltassist.timeline.edits import AddMarker, Edit, LayShot

_CHOSEN = "it was chosen"
"""The reason for a shot that nobody weighs."""


def cover_edits(task: CoverTask, cover: Cover) -> tuple[Edit, ...]:
    """The edits of a plan: shots laid, and markers where a look is needed."""
    edits: list[Edit] = []
    edits += [_laid(shot, why(task, shot)) for shot in (*cover.shots, *task.fixed)]
    for span in cover.bare:
        what = _needing(task, span) or "this place"
        edits.append(AddMarker(span.start, "shot missing", f"no cutaway is left for {what}"))
    return tuple(edits)


def why(task: CoverTask, shot: Shot) -> str:
    """The reason for a shot, in words."""
    if shot in task.fixed:
        return _CHOSEN if shot.decision else "fixed by the recipe"
    said = f"; {shot.match.word!r} is said" if shot.match else ""
    return _reason(task, shot.span) + said + (f"; of {shot.moment.person}" if shot.moment.whose else "")


def _laid(shot: Shot, reason: str) -> LayShot:
    span, moment = shot.span, shot.moment
    return LayShot(
        span.start,
        span.length,
        moment.source,
        shot.source_in,
        reason,
        name=moment.name,
        decision=shot.decision,
    )


def _reason(task: CoverTask, span: Span) -> str:
    return "covers " + (_needing(task, span) or "a flash of face")


def _needing(task: CoverTask, span: Span) -> str:
    """What of this span needs a picture, in words; "" where nothing does."""
    inside = [cut for cut in task.cuts if cut.at in span]
    cuts = sum(cut.seen for cut in inside)
    parts = []
    if cuts:
        parts.append("a jump cut" if cuts == 1 else f"{cuts} jump cuts")
    elif inside:
        parts.append("a cut in speech")
    if any(span.overlaps(narration) for narration in task.narration):
        parts.append("narration")
    elif any(span.overlaps(hole) for hole in task.holes):
        parts.append("a place where nothing is seen")
    return " and ".join(parts)
