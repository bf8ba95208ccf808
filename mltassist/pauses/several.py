"""Several pauses of one film, opened from the last to the first."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from mltassist.choices.decisions import Decision
from mltassist.errors import ProjectError
from mltassist.findings import Run
from mltassist.pauses.chosen import Wanted, as_chosen
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
class OpenedFilm:
    """What was planned, and the project in which the pauses are open."""

    project: Project
    edits: tuple[Edit, ...]
    notes: dict[Note, None]
    figures: list[dict[str, Any]]
    decisions: tuple[Decision, ...]


def open_pauses(
    project: Project, run: Run, wishes: Iterable[PauseWish], suggested: Collection[PauseWish] = ()
) -> OpenedFilm:
    """Plan pauses, and open them: those that were chosen, and of these wishes those that were not refused.

    Raises NoSuchPlace, TrackLocked.
    """
    now = project
    edits: list[Edit] = []
    figures: list[dict[str, Any]] = []
    notes: dict[Note, None] = {}
    decisions: tuple[Decision, ...] = ()
    # From the last to the first, so that no pause moves the place of one still to come.
    asked = [Wanted(find_place(now.timeline, wish.at), wish) for wish in wishes]
    if run.choices.pauses:
        findings = find(now.timeline, run)
        own = dict(findings.notes)
        asked = as_chosen(findings, asked)
        notes.update((note, None) for note in findings.notes if note not in own)
        decisions = tuple(findings.decisions.values())
    for at, wish, natural, choice in sorted(asked, key=lambda wanted: -wanted.at):
        findings = find(now.timeline, run)
        if choice is not None:
            findings.known_as[findings.places.pause(at)] = choice.name
        opened = pause_edits(
            findings, wish, before=project.timeline, suggested=wish in suggested, natural=natural
        )
        timeline = now.timeline
        try:
            now = now.with_edits(opened)  # a plan that cannot be carried out is refused here, with the reason
        except ProjectError as error:
            if choice is None:
                raise
            findings.note_unfit(choice, at, str(error).removeprefix(f"{error.path}: "))
            notes.update(findings.notes)
            continue
        edits += opened
        notes = notes_after(notes, opened)
        notes.update(findings.notes)
        decisions = (*findings.decisions.values(), *decisions_moved(decisions, moves_of_all(opened)))
        figures = pause_figures(opened, timeline, figures)
    return OpenedFilm(now, tuple(edits), notes | unmoved_subtitles(now), figures, decisions)
