"""A planned command carried out as its common options say: written or not, told in words or as data."""

from __future__ import annotations

import os
from collections.abc import Sequence
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from mltassist.cli.exits import Exit
from mltassist.cli.options import Common, Written
from mltassist.cli.paging import say_page, write_page
from mltassist.cli.saying import say
from mltassist.errors import OutputError

if TYPE_CHECKING:
    from mltassist.choices.kinds import Choices
    from mltassist.plans import Plan
    from mltassist.project import Project


def make(name: str, project: Path, recipe: Sequence[Path], own: dict[str, Any], common: Common) -> int:
    """Plan one command and carry it out as its common options say."""
    from mltassist.cli import screen
    from mltassist.project import open_project
    from mltassist.recipe.rules import load_recipe
    from mltassist.remembered.plans import planned

    rules, chosen = load_recipe(recipe), choices_for(project, common)
    opened = open_project(project, sequence=common["sequence"])
    permit_outputs(opened, name, common)
    with screen.progress() as told:
        plan = planned(name, opened, recipe=rules, choices=chosen, on_progress=told, **own)
        written = carry_out(plan, opened, common)
        write_page(plan, opened, rules, chosen, common, told, no_words=bool(own.get("no_words")))
    status = tell(plan, written, opened, common)
    say_page(common)
    return status


def finish(plan: Plan, project: Project, command: str, common: Written, *, idle: str) -> int:
    """Carry out a plan that is there already, into a new project that is named after the command.

    One that leaves the project as it is is told with `idle`, and no copy is written. A dry run makes the
    project too: only so is it known whether the plan fits, and whether it changes anything.
    """
    permit_project(project, common["output"], force=common["force"])
    made = plan.apply(project)
    if made.state == project.state:
        return tell(plan, None, project, common, idle=idle)
    written = None if common["dry_run"] else save_made(made, command, common["output"], force=common["force"])
    return tell(plan, written, project, common)


def tell(plan: Plan, written: Path | None, project: Project, common: Written, *, idle: str = "") -> int:
    """Tell what a plan does and what it became, in words or as data; gives the exit status.

    idle: why it does nothing, where it does.
    """
    from mltassist.cli import screen

    if common["as_json"]:
        screen.print_json({**plan.as_dict(), "output": None if written is None else str(written)})
    else:
        say_written(plan, written, project, common, idle=idle)
    screen.print_notes(plan.notes, plan.rate, quiet=common["quiet"])
    return Exit.CHECK if plan.needs_editor else Exit.DONE


def choices_for(project: Path, common: Common) -> Choices:
    """What was decided on a project, by the options on it: of its own file only where that is there."""
    from mltassist.choices.kinds import Choices
    from mltassist.choices.reading import load_choices, load_own_choices

    if common["no_choices"]:
        if common["choices"] is not None:
            raise click.UsageError("--choices and --no-choices exclude each other")
        return Choices()
    return load_own_choices(project) if common["choices"] is None else load_choices(common["choices"])


def permit_project(project: Project, output: Path | None, *, force: bool) -> None:
    """Refuse a new project that may not be written; None is a name of ours, which is free."""
    from mltassist.document import save

    if output is None:
        return
    if project.misnamed(output):
        what = f"is no name for a {project.host.name} document: the editor of such files cannot open it"
        raise OutputError(output, what, f"let it end in {project.host.ending}")
    save.permit(project.path, output, force=force)


def save_made(made: Project, command: str, output: Path | None, *, force: bool) -> Path:
    """Write the new project that a plan has made, named after the command where no name is given."""
    return made.save(output or made.free_name(command), force=force)


def permit_outputs(project: Project, command: str, common: Common) -> None:
    """Refuse outputs that may not be written, before the work and not after it."""
    from mltassist.document import save

    output = common["output"]
    permit_project(project, output, force=common["force"])
    beside = [path for path in (common["plan_file"], common["page"]) if path is not None]
    for target in beside:
        save.permit(project.path, target, force=common["force"])
    for one, other in combinations((output or project.free_name(command), *beside), 2):
        _keep_apart(one, other, "page" if other == common["page"] else "plan")
    if common["for_comments"] and common["page"] is None:
        raise click.UsageError("--for-comments needs --page")


def carry_out(plan: Plan, project: Project, common: Common) -> Path | None:
    """Write what was asked for: the new project unless it is a dry run, and the plan."""
    from mltassist.document.save import save_text

    written = None
    if not common["dry_run"] and not nothing_to_mend(plan, project):
        made = plan.apply(project)
        written = save_made(made, plan.command, common["output"], force=common["force"])
    if common["plan_file"] is not None:
        save_text(plan.to_json(), common["plan_file"], original=project.path, force=common["force"])
    return written


def nothing_to_mend(plan: Plan, project: Project) -> bool:
    """True for a plan of mends that has none, and no mend of an earlier run to take away."""
    from mltassist.timeline.edits import ClearOurs

    idle = all(isinstance(edit, ClearOurs) for edit in plan.edits)
    timeline = project.timeline
    mended = timeline.of_role("joins") is not None or any(
        curve.matched for track in timeline.tracks for clip in track.clips() for curve in clip.levels
    )
    return plan.command == "listen" and idle and not mended


def say_written(
    plan: Plan, written: Path | None, project: Project, common: Written, *, idle: str = ""
) -> None:
    """Tell in words what a plan does, all its edits on a dry run, and where it was written."""
    from mltassist.cli import screen
    from mltassist.timeline.earlier import was_passed

    if not common["quiet"]:
        listed = common["dry_run"] or common["verbose"]
        if listed:
            screen.print_edits(plan, passed=was_passed(project.timeline))
        screen.print_plan(plan, listed=listed)
    if written is None:
        say("nothing written: " + (idle or ("dry run" if common["dry_run"] else "there is nothing to mend")))
    else:
        say(f"written: {written}")


def _keep_apart(one: Path, other: Path, what: str) -> None:
    """Refuse one name for two results: the second would take the place of the first."""
    if os.path.normcase(one.resolve()) == os.path.normcase(other.resolve()):
        raise OutputError(other, "is the name of two results", f"choose another for the {what}")
