"""Commands about what was decided: plans carried out, our work taken out, choices taken up."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Unpack

import click

from mltassist.cli.carrying import finish
from mltassist.cli.exits import Exit
from mltassist.cli.options import AS_JSON, DEBUG, DRY_RUN, PROJECT, RECIPE, SEQUENCE, Written, writing
from mltassist.cli.saying import say


@click.command()
@click.argument("plan", type=click.Path(path_type=Path), metavar="PLAN.json")
@writing
def apply(plan: Path, project: Path, **common: Unpack[Written]) -> int:
    """Carry out a plan that was looked through, or changed.

    A plan is written by --plan, or printed by --json. Of one that has mistakes, or was made for another state
    of the project, nothing is carried out.

    \b
    Example:
      mltassist apply edits.json film.kdenlive
    """
    from mltassist.plans import Plan
    from mltassist.project import open_project

    saved = Plan.load(plan)
    opened = open_project(project, sequence=common["sequence"])
    saved.need_state(opened)
    return finish(saved, opened, "apply", common, idle="the plan changes nothing")


@click.command()
@click.option(
    "--part",
    multiple=True,
    type=click.Choice(["cover", "levels", "gain", "markers", "joins", "pauses"]),
    help="Take out this part of our work alone; may be given again. [default: all of it]",
)
@writing
def clear(project: Path, part: Sequence[str], **common: Unpack[Written]) -> int:
    """Take out all that is ours: cover, level curves, gain, markers, what was done to joins, pauses.

    A project on which a pass was made is then what it was before. What you have changed by hand
    since is left, and told. Where there is nothing of ours, nothing is written.

    \b
    Example:
      mltassist clear film-rough.kdenlive --part pauses
    """
    from mltassist import api
    from mltassist.project import open_project

    opened = open_project(project, sequence=common["sequence"])
    named = f" ({', '.join(part)})" if part else ""
    idle = f"there is nothing of ours in it{named}"
    return finish(api.clear(opened, part=part), opened, "clear", common, idle=idle)


@click.command()
@PROJECT
@RECIPE
@click.option(
    "--original",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The film before the pass. [default: that it was made from, if it lies beside]",
)
@click.option(
    "--choices",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Where choices are kept. [default: FILM.choices.toml beside the project]",
)
@SEQUENCE
@DRY_RUN
@AS_JSON
@DEBUG
def adopt(
    project: Path,
    recipe: Sequence[Path],
    original: Path | None,
    choices: Path | None,
    sequence: str,
    dry_run: bool,
    as_json: bool,
    debug: bool,
) -> int:
    """Take up what you changed by hand in a passed project: later runs keep it.

    Shots that you swapped, shortened, moved or deleted, and joins that you moved, become choices.

    \b
    Example:
      mltassist adopt film-rough.kdenlive
    """
    from mltassist import api
    from mltassist.choices.reading import choices_path, original_of
    from mltassist.choices.writing import update_choices
    from mltassist.cli import screen
    from mltassist.project import open_project
    from mltassist.recipe.rules import load_recipe
    from mltassist.timeline.earlier import was_passed

    before = original_of(project) if original is None else original
    opened = open_project(project, sequence=sequence)
    first = None if before is None else open_project(before, sequence=sequence)
    found = api.adopt(opened, recipe=load_recipe(recipe), original=first)
    target = choices_path(project) if choices is None else choices
    if found.rows and not dry_run:
        update_choices(target, lambda now: now.put(*found.rows))
    if as_json:
        written = str(target) if found.rows and not dry_run else None
        screen.print_json({**found.as_dict(), "output": written})
        return Exit.DONE
    for note in found.notes:
        say(note.told(opened.timeline.rate))
    if not found.rows:
        by_pass = was_passed(opened.timeline)
        say("nothing was changed by hand since the pass" if by_pass else "no pass was made on this project")
    else:
        say("nothing written: dry run" if dry_run else f"written: {target}")
    return Exit.DONE


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE.json")
@RECIPE
@writing
def remarks(file: Path, project: Path, recipe: Sequence[Path], **common: Unpack[Written]) -> int:
    """Put remarks on a plan into a project, as markers of ours.

    The file is what the director's page exports; docs/formats.md tells what is in it.

    \b
    Example:
      mltassist remarks remarks.json film-rough.kdenlive
    """
    from mltassist import api
    from mltassist.project import open_project
    from mltassist.recipe.rules import load_recipe

    opened = open_project(project, sequence=common["sequence"])
    plan = api.remarks(file, opened, recipe=load_recipe(recipe))
    return finish(plan, opened, "remarks", common, idle="no remark has a place in this film")
