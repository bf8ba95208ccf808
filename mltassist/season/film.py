"""One film of a season: what a worker is sent, what it does, and what it tells."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mltassist.choices.kinds import Choices
from mltassist.errors import MltAssistError, OutputError
from mltassist.files import here, named
from mltassist.frames import Rate
from mltassist.plans import Note, Plan
from mltassist.recipe.rules import Recipe
from mltassist.season.pause_places import pauses_in

if TYPE_CHECKING:
    from mltassist.project import Project


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one project.

    output: the document written, None when it failed. problem: why it failed. check: how many of its notes
    need the editor. figures: those of its plan. before: an earlier run finished it, and nothing that it is
    made of has changed since. rate: in which its notes count frames; None when it failed.
    """

    project: Path
    output: Path | None = None
    problem: str = ""
    check: int = 0
    notes: tuple[Note, ...] = ()
    figures: dict[str, Any] = field(default_factory=dict)
    before: bool = False
    sums: dict[str, Any] = field(default_factory=dict)
    """What the film shows and hides, for the page of the season: see `season.sums.film_sums`."""
    contents: str = ""
    """Digest of all that the result is made of; "" where none was written."""
    rate: Rate | None = None

    def as_dict(self) -> dict[str, Any]:
        """The outcome as plain data, in the form of docs/formats.md."""
        return {
            "project": str(self.project),
            "output": None if self.output is None else str(self.output),
            "problem": self.problem,
            "check": self.check,
            "rate": None if self.rate is None else [self.rate.numerator, self.rate.denominator],
            "notes": [asdict(note) for note in self.notes],
            "figures": self.figures,
            "sums": self.sums,
            "before": self.before,
        }


@dataclass(frozen=True, slots=True)
class Asked:
    """What `rough` is asked for besides the recipe, for every project alike."""

    pauses: tuple[tuple[str, Fraction], ...] = ()
    separation: float | None = None
    normalise: bool = False
    keep_changed: bool = False
    no_look: bool = False
    no_words: bool = False
    no_mend: bool = False


@dataclass(frozen=True, slots=True)
class Call:
    """One project's work as it is sent to a worker. target: None when nothing is to be written.

    plan_to: where its plan is written as JSON, if anywhere. sums: they are wanted, and so is its page.
    finished: the outcome of an earlier run with this target, which holds while the contents are the same.
    anew: it is planned in any case.
    """

    project: Path
    target: Path | None = None
    plan_to: Path | None = None
    recipe: Recipe = field(default_factory=Recipe)
    force: bool = False
    asked: Asked = Asked()
    sums: bool = False
    finished: Outcome | None = None
    own_choices: bool = True
    """What was decided on the project, in a file beside it, is obeyed."""
    anew: bool = False
    page_to: Path | None = None
    """Where the page of the film goes, if it is to have one."""


def one(call: Call) -> Outcome:
    """The rough pass over one project. Never raises what a person can mend."""
    from mltassist.choices.reading import load_own_choices
    from mltassist.project import open_project

    try:
        chosen = load_own_choices(here(call.project)) if call.own_choices else Choices()
        return _passed(call, open_project(call.project), chosen)
    except MltAssistError as error:
        return Outcome(call.project, problem=str(error))


def _passed(call: Call, opened: Project, chosen: Choices) -> Outcome:
    from mltassist.remembered.contents import contents_of
    from mltassist.remembered.plans import known_plan, planned

    contents, before = "", False
    pauses = pauses_in(opened.timeline, call.recipe.pauses, call.asked.pauses)
    asked = replace(call.asked, pauses=pauses.asked)
    recipe = replace(call.recipe, pauses=pauses.of_recipe)
    given: dict[str, Any] = {"recipe": recipe, "choices": chosen, **asdict(asked)}
    if call.target is not None:
        contents = contents_of(opened, (call.recipe, call.asked, chosen), call.recipe.log_sheets)
        finished = call.finished
        if finished is not None and finished.contents == contents and here(call.target).is_file():
            if not _missing(call) and (finished.sums or not call.sums):
                return finished
            before = True
        elif not call.force and here(call.target).is_file():
            # A run that was killed had written it, and did not come to say so.
            plan = known_plan("rough", opened, **given)
            before = plan is not None and plan.apply(opened).is_saved_as(call.target)
    written = _missing(call) if before else _results(call)
    for file in written:
        _permit(opened.path, file, force=call.force)
    plan = planned("rough", opened, fresh=call.anew, **given)
    plan = replace(plan, notes=(*plan.notes, *pauses.notes))
    made = plan.apply(opened)
    if call.target in written:
        made.save(call.target, force=call.force)
    _write_beside(call, opened, chosen, plan, written)
    check = sum(note.needs_editor for note in plan.notes)
    sums = _sums(made, call.recipe) if call.sums else {}
    figures = dict(plan.figures)
    return Outcome(
        call.project, call.target, "", check, plan.notes, figures, before, sums, contents, plan.rate
    )


def _results(call: Call) -> list[Path]:
    """All that a call is to write."""
    return [file for file in (call.target, call.plan_to, call.page_to) if file is not None]


def _missing(call: Call) -> list[Path]:
    """What of it is not there."""
    return [file for file in _results(call) if not here(file).is_file()]


def _permit(original: Path, target: Path, *, force: bool) -> None:
    """Make the folder of a result; raise OutputError where it may not be written."""
    from mltassist.document.save import permit

    make_folder(target.parent)
    permit(original, target, force=force)


def _write_beside(call: Call, opened: Project, chosen: Choices, plan: Plan, wanted: Iterable[Path]) -> None:
    """Write the plan and the page of a film, where they are wanted."""
    from mltassist.document.save import save_text

    if call.plan_to is not None and call.plan_to in wanted:
        save_text(named(plan.to_json()), call.plan_to, original=opened.path, force=call.force)
    if call.page_to is not None and call.page_to in wanted:
        from mltassist.page.gather import gather
        from mltassist.page.sheet import whole_page

        text = whole_page(gather(opened, plan, recipe=call.recipe, choices=chosen))
        save_text(named(text), call.page_to, original=opened.path, force=call.force)


def _sums(project: Project, recipe: Recipe) -> dict[str, Any]:
    from mltassist.rushes.find import begin, find
    from mltassist.season.sums import film_sums

    return film_sums(find(project.timeline, begin(project.timeline, recipe, None)))


def make_folder(folder: Path) -> None:
    """Make a folder for results, with those above it. Raises OutputError."""
    try:
        here(folder).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(folder, f"cannot be made ({error.strerror or error})", "choose another") from error
    if not os.access(here(folder), os.W_OK | os.X_OK):  # told before the work, not after each film
        raise OutputError(folder, "cannot be written to", "choose another folder, or change its rights")
