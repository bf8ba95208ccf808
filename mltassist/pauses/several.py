"""Several pauses of one film, opened from the last to the first."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from mltassist.choices.decisions import Decision
from mltassist.findings import Run
from mltassist.pauses.figures import pause_figures
from mltassist.pauses.opening import pause_edits
from mltassist.plans import Note, decisions_moved, notes_after, unmoved_subtitles
from mltassist.project import Project
from mltassist.recipe.rules import PauseWish
from mltassist.rushes.find import find
from mltassist.timeline.edits import Edit
from mltassist.timeline.moves import moves_of_all
from mltassist.timeline.places import find_place


@dataclass(frozen=True, slots=True)
class Opened:
    """What was planned, and the project in which the pauses are open."""

    project: Project
    edits: tuple[Edit, ...]
    notes: dict[Note, None]
    figures: list[dict[str, Any]]
    decisions: tuple[Decision, ...]


def open_pauses(
    project: Project, run: Run, wishes: Iterable[PauseWish], suggested: Collection[PauseWish] = ()
) -> Opened:
    """Plan pauses, and open them. Raises NoSuchPlace, TrackLocked."""
    now = project
    edits: list[Edit] = []
    figures: list[dict[str, Any]] = []
    notes: dict[Note, None] = {}
    decisions: tuple[Decision, ...] = ()
    # From the last to the first, so that no pause moves the place of one still to come.
    placed = sorted(((find_place(now.timeline, wish.at), wish) for wish in wishes), key=lambda p: -p[0])
    for _, wish in placed:
        findings = find(now.timeline, run)
        opened = pause_edits(findings, wish, before=project.timeline, suggested=wish in suggested)
        timeline = now.timeline
        now = now.with_edits(opened)  # a plan that cannot be carried out is refused here, with the reason
        edits += opened
        notes = notes_after(notes, opened)
        notes.update(findings.notes)
        decisions = (*findings.decisions.values(), *decisions_moved(decisions, moves_of_all(opened)))
        figures = pause_figures(opened, timeline, figures)
    return Opened(now, tuple(edits), notes | unmoved_subtitles(now), figures, decisions)
