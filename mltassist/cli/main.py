"""The command `mltassist`."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Unpack

import click

from mltassist.cli.batching import batch
from mltassist.cli.carrying import carry_out, make, permit, say_written
from mltassist.cli.exits import Exit
from mltassist.cli.options import (
    ANEW,
    AS_JSON,
    DEBUG,
    FORCE,
    KEEP_CHANGED,
    NO_LOOK,
    NO_MEND,
    NO_WORDS,
    NORMALISE,
    PAUSES,
    PINS,
    PROJECT,
    RECIPE,
    SEPARATION,
    SEQUENCE,
    Common,
    figure,
    planning,
    seconds,
)
from mltassist.cli.saying import enduring, say
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
@PINS
@SEQUENCE
@FORCE
@AS_JSON
@DEBUG
def survey(
    project: Path,
    recipe: Path | None,
    pins: Path | None,
    sequence: str,
    force: bool,
    as_json: bool,
    debug: bool,
) -> int:
    """Show what a project holds, and why each part is taken for what it is.

    \b
    Example:
      mltassist survey film.kdenlive --pins house.toml
    """
    from mltassist.cli.rushes import show_survey

    return show_survey(project, recipe, pins, sequence=sequence, force=force, as_json=as_json)


@command.command()
@click.option(
    "--clips",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write a sound file for every edit: speech alone, two seconds either side.",
)
@click.option("--mend", is_flag=True, help="Move joins that are heard by a few frames: write a new project.")
@NO_WORDS
@planning
def listen(
    project: Path,
    clips: Path | None,
    mend: bool,
    no_words: bool,
    recipe: Path | None,
    **common: Unpack[Common],
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
        found = api.listen(opened, recipe=rules, clips=clips, mend=mend, no_words=no_words, on_progress=told)
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
@ANEW
@NO_LOOK
@NO_WORDS
@planning
def cover(
    project: Path,
    recipe: Path | None,
    keep_changed: bool,
    anew: bool,
    no_look: bool,
    no_words: bool,
    **common: Unpack[Common],
) -> int:
    """Lay cutaways over every jump cut and under all narration.

    \b
    Example:
      mltassist cover film.kdenlive -o film-covered.kdenlive
    """
    options = {"keep_changed": keep_changed, "anew": anew, "no_look": no_look, "no_words": no_words}
    return make("cover", project, recipe, options, common)


@command.command()
@SEPARATION
@click.option(
    "--depth-limit",
    type=figure("DuckRules", "depth_limit_db"),
    metavar="DB",
    help="Nothing is ever taken down by more. [default: 40]",
)
@click.option(
    "--ramp-in",
    type=figure("DuckRules", "ramp_in_s"),
    metavar="SECONDS",
    help="Time of the way down, which ends at the first word.",
)
@click.option(
    "--ramp-out",
    type=figure("DuckRules", "ramp_out_s"),
    metavar="SECONDS",
    help="Time of the way up after the last word.",
)
@click.option(
    "--hold",
    type=figure("DuckRules", "bridge_s"),
    metavar="SECONDS",
    help="It stays down over shorter gaps in speech.",
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
    """Set music and all else that sounds under speech, and measure the whole mix.

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
@PAUSES
@SEPARATION
@NORMALISE
@KEEP_CHANGED
@ANEW
@NO_LOOK
@NO_WORDS
@NO_MEND
@planning
def rough(
    project: Path,
    recipe: Path | None,
    pauses: Sequence[tuple[str, Fraction]],
    separation: float | None,
    normalise: bool,
    keep_changed: bool,
    anew: bool,
    no_look: bool,
    no_words: bool,
    no_mend: bool,
    **common: Unpack[Common],
) -> int:
    """Make the whole pass: speech mended, pauses where asked for, cover, then music under speech.

    Your own cuts in speech are changed where they are heard: joins move by a few frames, and bites that are
    louder or quieter than their speaker get a gain. Every place is told. --no-mend leaves them all; in a
    recipe's [mend], reach_frames = 0 does, and levels = false leaves the levels.

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
            "anew": anew,
            "no_look": no_look,
            "no_words": no_words,
            "no_mend": no_mend,
        },
        common,
    )


command.add_command(batch)


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
            say(str(path))
    return Exit.DONE


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave with its exit status."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    with enduring() as results:
        status = _run(given)
        results.flush()
        lost = results.trouble
        if lost is not None and not isinstance(lost, BrokenPipeError):  # else the reader has had enough
            say(f"mltassist: the result could not be shown ({lost.strerror})", err=True)
            status = status if _WRITING & set(given) else Exit.NOTHING_WRITTEN
    sys.exit(status)


_WRITING = {"cover", "duck", "pause", "rough", "batch", "demo"}
_WRITING |= {"--mend", "--clips", "--save", "--list", "--mark"}
"""A command with one of these words has written files, whether or not its result could be shown."""


def _run(given: list[str]) -> int:
    """The exit status of a command."""
    try:
        status = command.main(given or ["--help"], prog_name="mltassist", standalone_mode=False)
    except click.exceptions.Abort:
        return 130
    except click.ClickException as error:
        say(f"mltassist: {error.format_message()}", err=True)
        return Exit.NOTHING_WRITTEN
    except Exception as error:
        if "--debug" in given:
            for line in traceback.format_exc().splitlines():
                say(line, err=True)
        say(f"mltassist: {_told(error)}", err=True)
        return Exit.NOTHING_WRITTEN
    return status if isinstance(status, int) else Exit.DONE


def _told(error: Exception) -> str:
    """One line for a failure; for one that nobody foresaw, with what to do about it."""
    if isinstance(error, MltAssistError):
        return str(error)
    words = " ".join(str(error).split())
    return f"unexpected {type(error).__name__}: {words}; run again with --debug and report it"
