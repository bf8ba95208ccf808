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
from mltassist.cli.carrying import make
from mltassist.cli.deciding import adopt, apply, clear, remarks
from mltassist.cli.exits import Exit
from mltassist.cli.listening import listen
from mltassist.cli.options import (
    ANEW,
    AS_JSON,
    DEBUG,
    FORCE,
    JUNIT,
    KEEP_CHANGED,
    NO_LOOK,
    NO_WORDS,
    NORMALISE,
    PINS,
    PROJECT,
    RECIPE,
    SEPARATION,
    SEQUENCE,
    Common,
    WholePass,
    apart,
    figure,
    planning,
    seconds,
    wishing,
)
from mltassist.cli.recipes import recipe as recipe_command
from mltassist.cli.reviewing import review
from mltassist.cli.saying import enduring, say
from mltassist.cli.wordlists import words
from mltassist.errors import MltAssistError, PlanError

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
    recipe: Sequence[Path],
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


command.add_command(listen)


@command.command()
@click.argument("document", type=click.Path(path_type=Path), metavar="DOC")
@click.option(
    "--against",
    type=click.Path(path_type=Path),
    metavar="ORIGINAL",
    help="Show only faults that this document does not have.",
)
@SEQUENCE
@click.option("--rules", is_flag=True, help="Judge the film by every rule of the recipe as well.")
@RECIPE
@NO_LOOK
@JUNIT
@AS_JSON
@FORCE
@DEBUG
def check(
    document: Path,
    against: Path | None,
    sequence: str,
    rules: bool,
    recipe: Sequence[Path],
    no_look: bool,
    junit: Path | None,
    as_json: bool,
    force: bool,
    debug: bool,
) -> int:
    """Look for faults in a project document's structure and picture; with --rules, judge the whole film.

    The status tells of the structure alone: what is wrong with a picture is for an editor to judge.

    The rules: jump cuts and narration covered, no black, flashes or frames shown twice, somebody seen,
    nothing seen beside a picture that does not fill the frame, separation of speech in every passage,
    integrated loudness, range, true peak, and media that are there.

    \b
    Example:
      mltassist check film-rough.kdenlive --against film.kdenlive
    """
    from mltassist.checking import check as examine
    from mltassist.cli import conforming, screen
    from mltassist.project import open_project
    from mltassist.rushes.faults import faults_of_picture

    if rules:
        if against is not None:
            raise click.UsageError("--against compares structure alone: leave it or --rules out")
        opened = open_project(document, sequence=sequence)
        return conforming.one(opened, recipe, no_look=no_look, junit=junit, as_json=as_json, force=force)
    if recipe or no_look or junit is not None or force:
        raise click.UsageError("--recipe, --no-look, --junit and --force need --rules")
    original = None if against is None else open_project(against, sequence=sequence)
    examined = open_project(document, sequence=sequence)
    faults = examine(examined, original=original)
    seen, rate = faults_of_picture(examined, original=original), examined.timeline.rate
    if as_json:
        screen.print_json(
            {
                "version": 1,
                "faults": [fault.as_dict() for fault in faults],
                "picture": [fault.as_dict(rate) for fault in seen],
            }
        )
    else:
        screen.print_faults(faults, seen, rate)
    return Exit.CHECK if faults else Exit.DONE


@command.command()
@KEEP_CHANGED
@ANEW
@NO_LOOK
@NO_WORDS
@planning
def cover(
    project: Path,
    recipe: Sequence[Path],
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
    recipe: Sequence[Path],
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
    recipe: Sequence[Path],
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
@wishing
@ANEW
@planning
def rough(project: Path, recipe: Sequence[Path], anew: bool, **given: Unpack[WholePass]) -> int:
    """Make the whole pass: speech mended, pauses where asked for, cover, then music under speech.

    Your own cuts in speech are changed where they are heard: joins move by a few frames, and bites that are
    louder or quieter than their speaker get a gain. Every place is told. --no-mend leaves them all; in a
    recipe's [mend], reach_frames = 0 does, and levels = false leaves the levels.

    \b
    Example:
      mltassist rough film.kdenlive --pause "let the wheel be heard=5" --plan edits.json
    """
    wishes, common = apart(given)
    return make("rough", project, recipe, {**wishes, "anew": anew}, common)


for one in (review, batch, apply, adopt, clear, remarks, recipe_command):
    command.add_command(one)


@command.command()
@click.argument("folder", type=click.Path(path_type=Path), metavar="[LESSON] [DIR]", required=False)
@click.argument("lesson", default="", metavar="")
@AS_JSON
@FORCE
@DEBUG
def demo(folder: Path | None, lesson: str, as_json: bool, force: bool, debug: bool) -> int:
    """Write the demonstration film, or a lesson: media, and documents of the same edit for each host.

    Lessons: shorter-bite, narration, breathing, music, not-enough, just-looking, honest-cut; and mill, the
    whole film. A lesson gets a folder of its name in DIR, with a page that tells what to try; its media lie
    beside it. Without a folder the lessons are listed.

    \b
    Example:
      mltassist demo shorter-bite class
    """
    from mltassist.cli import screen
    from mltassist.demofilm.lessons import LESSONS
    from mltassist.demofilm.make import demo as made

    if folder is None:
        if as_json:
            screen.print_json([{"lesson": each.name, "title": each.title} for each in LESSONS.values()])
        else:
            for each in LESSONS.values():
                say(f"{each.name:14}{each.title}")
        return Exit.DONE
    if lesson:  # it stands first, so what was read as the folder is its name
        folder, lesson = Path(lesson), str(folder)
    elif str(folder) in LESSONS:
        raise click.UsageError(f"{folder!s} is a lesson: name the folder after it")
    with screen.progress() as told:
        documents = made(folder, lesson=lesson, force=force, on_progress=told)
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


_WRITING = {
    *("adopt", "apply", "batch", "clear", "cover", "demo", "duck", "pause", "remarks", "rough"),
    *("--mend", "--clips", "--reel", "--save", "--list", "--mark"),
}
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
        for line in _lines(error):
            say(f"mltassist: {line}", err=True)
        return Exit.NOTHING_WRITTEN
    return status if isinstance(status, int) else Exit.DONE


def _lines(error: Exception) -> list[str]:
    """A line for a failure, or for each of the mistakes in a plan."""
    if isinstance(error, PlanError) and len(error.mistakes) > 1:
        return [f"{error.path}: {mistake}" for mistake in error.mistakes]
    return [_told(error)]


def _told(error: Exception) -> str:
    """One line for a failure; for one that nobody foresaw, with what to do about it."""
    if isinstance(error, MltAssistError):
        return str(error)
    words = " ".join(str(error).split())
    return f"unexpected {type(error).__name__}: {words}; run again with --debug and report it"
