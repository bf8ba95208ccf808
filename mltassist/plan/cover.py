"""The cover plan: shots over every jump cut and under all narration."""

from __future__ import annotations

from dataclasses import dataclass

from mltassist.frames import Span, without
from mltassist.plan.film import CoverTask, Frames, Shot
from mltassist.plan.rules import Breach, breaches
from mltassist.plan.shots import choose
from mltassist.plan.spans import divide
from mltassist.timeline.edits import AddGuide, Edit, LayShot


@dataclass(frozen=True, slots=True)
class Cover:
    """A finished plan. bare: spans that should have a shot and have none for want of supply."""

    shots: tuple[Shot, ...]
    bare: tuple[Span, ...]
    breaches: tuple[Breach, ...]


def plan_cover(task: CoverTask, rules: Frames) -> Cover:
    """Lay shots by the rules. The same task gives the same plan.

    Where supply runs out, spans stay bare and are named; every rule that is not kept is named too.
    """
    spans = divide(task, rules)
    chosen = choose(task, rules, spans)
    shots = tuple(shot for shot in chosen if shot is not None)
    bare = tuple(span for span, shot in zip(spans, chosen, strict=True) if shot is None)
    return Cover(shots, bare, breaches(task, rules, shots))


def cover_edits(task: CoverTask, cover: Cover) -> tuple[Edit, ...]:
    """The edits of a plan: shots laid, and guides where a look is needed."""
    edits: list[Edit] = []
    for shot in cover.shots:
        edits.append(
            LayShot(
                at=shot.span.start,
                length=shot.span.length,
                source=shot.moment.source,
                source_in=shot.source_in,
                reason=_reason(task, shot.span),
                name=shot.moment.name,
            )
        )
    for span in cover.bare:
        edits.append(AddGuide(span.start, "shot missing", f"no cutaway is left for {_reason(task, span)}"))
    return tuple(edits)


def _reason(task: CoverTask, span: Span) -> str:
    cuts = sum(cut.at in span for cut in task.cuts)
    parts = []
    if cuts:
        parts.append("a jump cut" if cuts == 1 else f"{cuts} jump cuts")
    if any(span.overlaps(narration) for narration in task.narration):
        parts.append("narration")
    return "covers " + " and ".join(parts or ["a flash of face"])


def face_left(task: CoverTask, shots: tuple[Shot, ...]) -> int:
    """Frames in which a face is still seen."""
    faces = [view.span for view in task.views if view.who]
    return sum(span.length for span in without(faces, [shot.span for shot in shots]))
