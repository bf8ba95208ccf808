"""The command `mltassist`."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Unpack

import click

from mltassist.cli.carrying import carry_out, make, permit, say_written
from mltassist.cli.exits import Exit
from mltassist.cli.options import (
    AS_JSON,
    DEBUG,
    FORCE,
    KEEP_CHANGED,
    NO_LOOK,
    NO_WORDS,
    NORMALISE,
    PROJECT,
    RECIPE,
    SEPARATION,
    SEQUENCE,
    Common,
    decibels,
    pause_place,
    planning,
    seconds,
    seconds_or_none,
)
from mltassist.cli.wordlists import words
from mltassist.errors import MltAssistError

# Commands import the analysis when they run, so that help is there at once.


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="mltassist")
def command() -> None:
    """Rough cover passes for documentaries.

    Reads a project of an editor whose documents are MLT XML, lays cutaways over its jump cuts and under
    its narration, sets music under speech, opens natural-sound pauses, and writes a new project. The
    original is never changed.

    \b
    Example:
      mltassist rough film.kdenlive --pause "00:01:10:00=4"
    """


command.add_command(words)


@command.command()
@PROJECT
@RECIPE
@SEQUENCE
@AS_JSON
@DEBUG
def survey(project: Path, recipe: Path | None, sequence: str, as_json: bool, debug: bool) -> int:
    """Show what a project holds, and why each part is taken for what it is.

    \b
    Example:
      mltassist survey film.kdenlive
    """
    from mltassist import api
    from mltassist.cli import screen
    from mltassist.project import open_project
    from mltassist.recipe.rules import load_recipe

    rules = load_recipe(recipe)
    with screen.progress() as told:
        found = api.survey(open_project(project, sequence=sequence), recipe=rules, on_progress=told)
    if as_json:
        screen.print_json(found.as_dict())
    else:
        screen.print_survey(found)
    screen.print_notes(found.notes, found.timeline.rate)
    return Exit.CHECK if any(note.needs_editor for note in found.notes) else Exit.DONE


@command.command()
@click.option(
    "--clips",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write a sound file for every edit: speech alone, two seconds either side.",
)
@click.option("--mend", is_flag=True, help="Move joins that are heard by a few frames: write a new project.")
@planning
def listen(
    project: Path, clips: Path | None, mend: bool, recipe: Path | None, **common: Unpack[Common]
) -> int:
    """Judge by measurement which edits in speech are heard, and why; mend what can be mended.

    \b
    Example:
      mltassist listen film.kdenlive --mend --clips edits
    """
    from mltassist import api
    from mltassist.cli import screen
    from mltassist.project import open_project
    from mltassist.recipe.rules import load_recipe

    writing = ("output", "plan_file", "dry_run", "force")
    if not mend and any(common.get(name) for name in writing):
        raise click.UsageError("without --mend nothing is written: -o, --plan, --dry-run and --force need it")
    rules, opened = load_recipe(recipe), open_project(project, sequence=common["sequence"])
    if mend:
        permit(opened, "listen", common)
    with screen.progress() as told:
        found = api.listen(opened, recipe=rules, clips=clips, mend=mend, on_progress=told)
    written = carry_out(found.plan, opened, common) if found.plan is not None else None
    if common["as_json"]:
        screen.print_json({**found.as_dict(), "output": None if written is None else str(written)})
    else:
        screen.print_hearing(found, opened.timeline.rate)
        if found.plan is not None:
            say_written(found.plan, written, common)
    screen.print_notes(found.notes, opened.timeline.rate)
    return Exit.CHECK if any(note.needs_editor for note in found.notes) else Exit.DONE


@command.command()
@click.argument("document", type=click.Path(path_type=Path), metavar="DOC")
@click.option(
    "--against",
    type=click.Path(path_type=Path),
    metavar="ORIGINAL",
    help="Show only faults that this document does not have.",
)
@SEQUENCE
@AS_JSON
@DEBUG
def check(document: Path, against: Path | None, sequence: str, as_json: bool, debug: bool) -> int:
    """Look for faults in the structure of a project document.

    \b
    Example:
      mltassist check film-rough.kdenlive --against film.kdenlive
    """
    from mltassist.checking import check as examine
    from mltassist.cli import screen
    from mltassist.project import open_project

    original = None if against is None else open_project(against, sequence=sequence)
    faults = examine(open_project(document, sequence=sequence), original=original)
    if as_json:
        screen.print_json({"version": 1, "faults": [fault.as_dict() for fault in faults]})
    else:
        screen.print_faults(faults)
    return Exit.CHECK if faults else Exit.DONE


@command.command()
@KEEP_CHANGED
@NO_LOOK
@NO_WORDS
@planning
def cover(
    project: Path,
    recipe: Path | None,
    keep_changed: bool,
    no_look: bool,
    no_words: bool,
    **common: Unpack[Common],
) -> int:
    """Lay cutaways over every jump cut and under all narration.

    \b
    Example:
      mltassist cover film.kdenlive -o film-covered.kdenlive
    """
    own = {"keep_changed": keep_changed, "no_look": no_look, "no_words": no_words}
    return make("cover", project, recipe, own, common)


@command.command()
@SEPARATION
@click.option(
    "--depth-limit", type=decibels, metavar="DB", help="Music is never taken down by more. [default: 40]"
)
@click.option(
    "--ramp-in",
    type=seconds_or_none,
    metavar="SECONDS",
    help="Time of the way down, which ends at the first word.",
)
@click.option(
    "--ramp-out", type=seconds_or_none, metavar="SECONDS", help="Time of the way up after the last word."
)
@click.option(
    "--hold", type=seconds_or_none, metavar="SECONDS", help="Music stays down over shorter gaps in speech."
)
@NORMALISE
@planning
def duck(
    project: Path,
    recipe: Path | None,
    separation: float | None,
    depth_limit: float | None,
    ramp_in: Fraction | None,
    ramp_out: Fraction | None,
    hold: Fraction | None,
    normalise: bool,
    **common: Unpack[Common],
) -> int:
    """Set music under speech by measured loudness, and measure the whole mix.

    \b
    Example:
      mltassist duck film.kdenlive --separation 20 --normalise
    """
    own = {"ramp_in": ramp_in, "ramp_out": ramp_out, "hold": hold, "depth_limit": depth_limit}
    return make("duck", project, recipe, {"separation": separation, "normalise": normalise, **own}, common)


@command.command()
@click.option(
    "--at",
    multiple=True,
    metavar="T",
    help="Where: a timecode, a frame (f1234) or a marker's text; may be given again.",
)
@click.option("--length", required=True, type=seconds, metavar="SECONDS", help="How long, in seconds.")
@click.option(
    "--suggest",
    type=click.IntRange(0, 99),
    default=0,
    metavar="N",
    help="Open N pauses more, where speech rests longest.",
)
@planning
def pause(
    project: Path,
    recipe: Path | None,
    at: Sequence[str],
    length: Fraction,
    suggest: int,
    **common: Unpack[Common],
) -> int:
    """Open natural-sound pauses; everything after them moves together.

    \b
    Example:
      mltassist pause film.kdenlive --at "let the wheel be heard" --length 5
    """
    return make("pause", project, recipe, {"at": at, "length": length, "suggest": suggest}, common)


@command.command()
@click.option(
    "--pause",
    "pauses",
    type=pause_place,
    metavar="T=SECONDS",
    multiple=True,
    help="Open a natural-sound pause at T (timecode, f1234 or marker text); may be given again.",
)
@SEPARATION
@NORMALISE
@KEEP_CHANGED
@NO_LOOK
@NO_WORDS
@planning
def rough(
    project: Path,
    recipe: Path | None,
    pauses: Sequence[tuple[str, Fraction]],
    separation: float | None,
    normalise: bool,
    keep_changed: bool,
    no_look: bool,
    no_words: bool,
    **common: Unpack[Common],
) -> int:
    """Make the whole pass: pauses where asked for, cover, then music under speech.

    \b
    Example:
      mltassist rough film.kdenlive --pause "let the wheel be heard=5" --plan edits.json
    """
    return make(
        "rough",
        project,
        recipe,
        {
            "pauses": pauses,
            "separation": separation,
            "normalise": normalise,
            "keep_changed": keep_changed,
            "no_look": no_look,
            "no_words": no_words,
        },
        common,
    )


@command.command()
@click.argument("projects", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder for the new projects.",
)
@RECIPE
@click.option(
    "--jobs", type=click.IntRange(1), metavar="N", help="Worker processes. [default: all processors]"
)
@click.option("--dry-run", is_flag=True, help="Plan every project; write none.")
@AS_JSON
@FORCE
@DEBUG
def batch(
    projects: Sequence[Path],
    out: Path,
    recipe: Path | None,
    jobs: int | None,
    dry_run: bool,
    as_json: bool,
    force: bool,
    debug: bool,
) -> int:
    """Make the rough pass over many projects; one that fails never stops the others.

    \b
    Example:
      mltassist batch series/*.kdenlive --out covered --recipe house.toml --jobs 2
    """
    from mltassist.batches import batch as run
    from mltassist.cli import screen
    from mltassist.recipe.rules import load_recipe

    rules = load_recipe(recipe)
    done = 0
    with screen.progress() as told:

        def on_done(_: object) -> None:
            nonlocal done
            done += 1
            if told is not None:
                told("projects", done / len(projects))

        outcomes = run(projects, out, recipe=rules, jobs=jobs, dry_run=dry_run, force=force, on_done=on_done)
    if as_json:
        screen.print_json({"version": 1, "outcomes": [outcome.as_dict() for outcome in outcomes]})
    else:
        screen.print_outcomes(outcomes)
    screen.print_outcome_notes(outcomes)
    if all(outcome.problem for outcome in outcomes):
        count = len(outcomes)
        click.echo(
            f"mltassist: nothing written, {count} of {count} projects failed; see the result", err=True
        )
        return Exit.NOTHING_WRITTEN
    return Exit.CHECK if any(outcome.problem or outcome.check for outcome in outcomes) else Exit.DONE


@command.command()
@click.argument("folder", type=click.Path(path_type=Path), metavar="DIR")
@AS_JSON
@FORCE
@DEBUG
def demo(folder: Path, as_json: bool, force: bool, debug: bool) -> int:
    """Write the demonstration film: its media and three project documents of the same edit.

    \b
    Example:
      mltassist demo demo-film
    """
    from mltassist.cli import screen
    from mltassist.demofilm.make import demo as made

    with screen.progress() as told:
        documents = made(folder, force=force, on_progress=told)
    if as_json:
        screen.print_json([str(path) for path in documents])
    else:
        for path in documents:
            click.echo(path)
    return Exit.DONE


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave with its exit status."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    try:
        status = command.main(given or ["--help"], prog_name="mltassist", standalone_mode=False)
    except click.exceptions.Abort:
        sys.exit(130)
    except click.ClickException as error:
        click.echo(f"mltassist: {error.format_message()}", err=True)
        sys.exit(Exit.NOTHING_WRITTEN)
    except Exception as error:
        if "--debug" in given:
            traceback.print_exc()
        click.echo(f"mltassist: {_told(error)}", err=True)
        sys.exit(Exit.NOTHING_WRITTEN)
    sys.exit(status if isinstance(status, int) else Exit.DONE)


def _told(error: Exception) -> str:
    """One line for a failure; for one that nobody foresaw, with what to do about it."""
    if isinstance(error, MltAssistError):
        return str(error)
    words = " ".join(str(error).split())
    return f"unexpected {type(error).__name__}: {words}; run again with --debug and report it"
