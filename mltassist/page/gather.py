"""Everything that a page shows of one plan, as plain data, with the stills and sounds that it names."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from hashlib import blake2b
from typing import Any

from mltassist.choices.kinds import LISTS, Choices, row_fields
from mltassist.choices.writing import choices_text
from mltassist.errors import NothingToDo
from mltassist.findings import Memory, StageProgress
from mltassist.frames import Span
from mltassist.media.sound.mix import sounding
from mltassist.page.covers import cover_rows, pause_rows
from mltassist.page.gallery import Gallery, Medium
from mltassist.page.joins import join_rows
from mltassist.page.lists import (
    fault_rows,
    hidden_rows,
    level_rows,
    mix_rows,
    note_rows,
)
from mltassist.page.pickups import never_filmed, to_film
from mltassist.page.stages import Stages, stages_of
from mltassist.page.strip import strip_of
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.recipe.rules import Recipe
from mltassist.timeline.edits import LayShot

_VERSION = 1
LISTENING = ("listen", "rough")
"""Commands whose plans are about joins."""
HERE_S = 6
"""Seconds of the film that are heard from a place on."""
_FIGURES = ("before", "after", "mends", "removed_s")


@dataclass(frozen=True, slots=True)
class Gathered:
    """The data of a page, as its script reads them, and the stills and sounds that they name."""

    data: dict[str, Any]
    gallery: Gallery
    stages: Stages

    def sound_at(self, frame: int) -> Medium | None:
        """What the film sounds like from a frame on, as the plan leaves it."""
        timeline = self.stages.after.timeline
        heard = Span(frame, min(timeline.length, frame + timeline.rate.frames(HERE_S)))
        return self.gallery.get(self.gallery.sound(sounding(timeline), heard))

    def still_at(self, frame: int) -> Medium | None:
        """What is seen at a frame of the film as the plan leaves it; None where that is no file."""
        clip = self.stages.showing_at(frame)
        if clip is None or clip.source.path is None or not clip.source.has_picture:
            return None
        return self.gallery.get(self.gallery.still(clip.source.path, clip.source_frame(frame)))


def gather(
    project: Project,
    plan: Plan,
    *,
    recipe: Recipe | None = None,
    choices: Choices | None = None,
    no_words: bool = False,
    for_comments: bool = False,
    gallery: Gallery | None = None,
    memory: Memory | None = None,
    applied: Project | None = None,
    on_progress: StageProgress | None = None,
) -> Gathered:
    """What a page shows of a plan for a project. What the run of the plan has decoded is not decoded again.

    choices: what was decided before, which the plan has obeyed. no_words: only those that are written down
    count. for_comments: words, stills and sounds
    alone, without scores and levels. memory: of earlier runs on this film, and of this one then.
    applied: the project with the plan carried out, where it is at hand.
    """
    known: dict[str, Any] = {"no_words": no_words, "applied": applied, "memory": memory}
    stages = stages_of(project, plan, recipe, choices, on_progress, **known)
    gallery = gallery or Gallery.fitted(plan.rate, _edits(plan))
    run = stages.after.run
    run.tell("gathering the page")
    try:
        joins = join_rows(stages, gallery) if plan.command in LISTENING else []
    except NothingToDo:
        joins = []
    run.tell("gathering the page", 0.3)
    data = {
        "version": _VERSION,
        "command": plan.command,
        "film": _film(stages),
        "for_comments": for_comments,
        "joins": [_bare(row) for row in joins] if for_comments else joins,
        "covers": cover_rows(stages, gallery),
        "pauses": pause_rows(stages, gallery),
        "strip": {
            "before": strip_of(stages.before, loudness=not for_comments),
            "after": strip_of(stages.after, loudness=not for_comments),
        },
        "lists": {} if for_comments else _lists(stages),
        "places": _places(stages),
        "words": [[word.at, word.text + word.after] for word in stages.said],
        "choices": choices_data(choices or Choices()),
        "choices_head": choices_text(Choices()).partition("version")[0].rstrip("\n"),
        "mark": blake2b(str(project.path.resolve()).encode(), digest_size=6).hexdigest(),
        "tags": sorted({row["subject"] for row in plan.figures.get("supply", ())}),
    }
    run.tell("gathering the page", 1.0)
    return Gathered(data, gallery, stages)


def choices_data(choices: Choices) -> dict[str, Any]:
    """Choices as plain data, in the form of their file."""
    lists = {part: [dict(row_fields(row)) for row in getattr(choices, part)] for part in LISTS}
    for row in (row for rows in lists.values() for row in rows):
        row |= {key: float(value) for key, value in row.items() if isinstance(value, Fraction)}
    means = {tag: list(words) for tag, words in choices.means.items()}
    return {"version": choices.version, "never": list(choices.never), "means": means, **lists}


def _edits(plan: Plan) -> int:
    shots = sum(isinstance(edit, LayShot) for edit in plan.edits)
    return shots + int(plan.figures.get("edits_in_speech", 0))


def _film(stages: Stages) -> dict[str, Any]:
    timeline, was = stages.after.timeline, stages.before.timeline
    return {
        "name": stages.project.path.stem,
        "file": stages.project.path.name,
        "rate": [stages.rate.numerator, stages.rate.denominator],
        "length": timeline.length,
        "time": stages.time(timeline.length),
        "length_before": was.length,
        "time_before": stages.time(was.length),
        "markers": [
            {"at": mark.at, "time": stages.time(mark.at), "text": mark.text}
            for mark in timeline.markers
            if not mark.ours
        ],
    }


def _places(stages: Stages) -> dict[str, Any]:
    """What every place of the film is called: `files`, and `runs` of the film.

    A run: first frame, number of the file, frame of it, after, nth, moves. Each next frame in it is called by
    the next frame of the file where `moves` is 1, else by one more `after`.
    """
    runs = [(start, anchor, moves) for start, anchor, moves in stages.after.places.runs()]
    files = {name: number for number, name in enumerate(dict.fromkeys(a.file_as_text for _, a, _ in runs))}
    return {
        "files": list(files),
        "runs": [[at, files[a.file_as_text], a.frame, a.after, a.nth, int(moves)] for at, a, moves in runs],
    }


def _lists(stages: Stages) -> dict[str, Any]:
    film = [(stages.project.path.stem, stages.plan.figures)]
    return {
        "hidden": hidden_rows(stages),
        "to_film": to_film(film),
        "never_filmed": never_filmed(film),
        "faults": fault_rows(stages),
        "mix": mix_rows(stages),
        "levels": level_rows(stages),
        "notes": note_rows(stages),
    }


def _bare(row: dict[str, Any]) -> dict[str, Any]:
    """A join without figures."""
    return {key: value for key, value in row.items() if key not in _FIGURES}
