"""The command `batch`."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

import click

from mltassist.cli.exits import Exit
from mltassist.cli.options import (
    AS_JSON,
    DEBUG,
    FORCE,
    JUNIT,
    NO_CHOICES,
    RECIPE,
    Wishes,
    minutes,
    two_folders,
    wishing,
)
from mltassist.cli.saying import say

if TYPE_CHECKING:
    from mltassist.season.film import Outcome


class Given(Wishes):
    """All that a batch is asked for besides its projects, its recipe and its machines."""

    out: Path | None
    no_choices: bool
    plans: Path | None
    page: Path | None
    jobs: int | None
    limit: float | None
    memory: int | None
    anew: bool
    log: Path | None
    dry_run: bool
    force: bool


@click.command()
@click.argument("projects", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder for the new projects; what lies in folders keeps its place below it.",
)
@RECIPE
@wishing
@NO_CHOICES
@click.option(
    "--plans",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder for the plan of each project as JSON, under the name of the new one.",
)
@click.option(
    "--page",
    type=click.Path(path_type=Path),
    metavar="FILE.html",
    help="Write the page of the season, the lists of all films summed, and beside each its own page.",
)
@click.option(
    "--jobs", type=click.IntRange(1), metavar="N", help="Worker processes. [default: all processors]"
)
@click.option(
    "--limit",
    type=minutes,
    metavar="MINUTES",
    help="End a project that takes longer; the others go on.",
)
@click.option(
    "--memory",
    type=click.IntRange(64),
    metavar="MIB",
    help="End a project that takes more memory; the others go on.",
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Work on the machines of a cluster of dask.distributed, which see the same files.",
)
@click.option(
    "--map",
    "maps",
    type=two_folders,
    multiple=True,
    metavar="HERE=THERE",
    help="A folder of this machine, and where those of the cluster find it; may be given again.",
)
@click.option("--anew", is_flag=True, help="Do again what an earlier run finished, over its results.")
@click.option(
    "--log",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Add a line of JSON to this file as each project ends.",
)
@click.option("--dry-run", is_flag=True, help="Plan every project; write none.")
@click.option(
    "--check",
    is_flag=True,
    help="Write nothing: judge every film as it is by every rule of the recipe.",
)
@JUNIT
@AS_JSON
@FORCE
@DEBUG
def batch(
    projects: Sequence[Path],
    recipe: Sequence[Path],
    cluster: str | None,
    maps: Sequence[tuple[str, str]],
    check: bool,
    junit: Path | None,
    as_json: bool,
    debug: bool,
    **given: Unpack[Given],
) -> int:
    """Make the rough pass over many projects: files, folders and patterns.

    One that fails, dies or hangs never stops the others. What an earlier run finished is passed over as long
    as nothing that it is made of has changed, so a batch that was stopped goes on where it was.

    A film that has no marker of the name given to --pause, or ends before that place, is made without the
    pause and listed as one to check; a place that no film has is refused before the work.

    With --check every film is judged as it is, those that were made like any other; the exit status is 1
    where one does not conform.

    \b
    Example:
      mltassist batch series --out covered --recipe house.toml --jobs 2 --limit 60
      mltassist batch covered --check --recipe house.toml --junit answers.xml
      mltassist batch /mnt/a --out /mnt/a/new --cluster tcp://10.0.0.5:8786 --map /mnt/a=/media/a
    """
    from mltassist.recipe.rules import load_recipe

    _refuse_machines(cluster, given["jobs"], maps)
    seen = _seen(projects, cluster)
    if check:
        from mltassist.cli import conforming

        judging, rules = _judging(given), load_recipe(recipe)
        with _executor(cluster, maps) as executor:
            judging["executor"] = executor
            return conforming.many(seen, rules, judging, junit=junit, as_json=as_json, force=given["force"])
    if (out := given["out"]) is None:
        raise click.UsageError("Missing option '--out'")
    if junit is not None:
        raise click.UsageError("--junit needs --check")
    asked: dict[str, Any] = {**given, "recipe": load_recipe(recipe)}
    with _executor(cluster, maps) as executor:
        asked |= {"out": out if cluster is None else out.absolute(), "executor": executor}
        outcomes = _made(seen, asked)
    return _told(outcomes, as_json=as_json)


def _judging(given: Given) -> dict[str, Any]:
    """The options that `check` takes; any other is refused."""
    kept = ("no_look", "jobs", "limit", "memory")
    if any(value for name, value in given.items() if name not in (*kept, "force", "no_choices")):
        raise click.UsageError(f"with --check films are judged as they are: only {_JUDGING} go with it")
    return {name: value for name, value in given.items() if name in kept}


def _made(projects: Sequence[Path], given: dict[str, Any]) -> tuple[Outcome, ...]:
    """The outcomes of a batch; how far it has come is shown, and said where it is interrupted."""
    from mltassist.batches import batch as run
    from mltassist.cli import screen

    done: list[Outcome] = []
    count = 0
    with screen.progress() as told:

        def on_found(number: int) -> None:
            nonlocal count
            count = number

        def on_done(outcome: Outcome) -> None:
            done.append(outcome)
            if told is not None:
                told("projects", len(done) / count)

        try:
            return run(projects, **given, on_done=on_done, on_found=on_found)
        except KeyboardInterrupt:
            finished = sum(not outcome.problem for outcome in done)
            stopped = (
                f"mltassist: stopped, {finished} of {count} projects are finished; run it again to go on"
            )
            say(stopped, err=True)
            raise


def _told(outcomes: Sequence[Outcome], *, as_json: bool) -> int:
    """Print the outcomes; gives the exit status."""
    from mltassist.cli import screen

    if as_json:
        screen.print_json({"version": 2, "outcomes": [outcome.as_dict() for outcome in outcomes]})
    else:
        screen.print_outcomes(outcomes)
    screen.print_outcome_notes(outcomes)
    if all(outcome.problem for outcome in outcomes):
        failed = len(outcomes)
        why = f"{failed} of {failed} projects failed; see the result" if outcomes else "there are no projects"
        say(f"mltassist: nothing written, {why}", err=True)
        return Exit.NOTHING_WRITTEN
    return Exit.CHECK if any(outcome.problem or outcome.check for outcome in outcomes) else Exit.DONE


_JUDGING = "--recipe, --no-look, --jobs, --limit, --memory, --cluster, --map, --junit, --force and --json"


def _refuse_machines(cluster: str | None, jobs: int | None, maps: Sequence[tuple[str, str]]) -> None:
    """Refuse options that do not go together: of this machine, and of those of a cluster."""
    if cluster is not None and jobs is not None:
        raise click.UsageError("--jobs is for processes of this machine: leave it or --cluster out")
    if maps and cluster is None:
        raise click.UsageError("--map is for machines of a cluster: give --cluster too")


def _executor(
    cluster: str | None, maps: Sequence[tuple[str, str]]
) -> AbstractContextManager[Executor | None]:
    """What does the work in place of processes of this machine, if anything."""
    if cluster is None:
        return nullcontext()
    from mltassist.season.cluster import on_cluster

    return on_cluster(cluster, maps)


def _seen(projects: Sequence[Path], cluster: str | None) -> Sequence[Path]:
    """Projects by names that hold on every machine."""
    return projects if cluster is None else [project.absolute() for project in projects]
