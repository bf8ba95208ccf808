"""Options that several commands share."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import fields
from fractions import Fraction
from pathlib import Path
from typing import Any, TypedDict, TypeVar, cast, get_args

import click

from mltassist.document.values import number
from mltassist.timeline.bounds import shown

WEEK_MIN = 7 * 24 * 60
Command = TypeVar("Command", bound=Callable[..., object])


def figure(rules: str, key: str) -> Callable[[str], Any]:
    """What reads a figure that overrules that of a recipe, within the same bounds."""

    def read(text: str) -> Any:  # noqa: ANN401  (float or Fraction, as the key has it)
        from mltassist.recipe import rules as recipe
        from mltassist.timeline.bounds import flaw

        kind = next(each.type for each in fields(getattr(recipe, rules)) if each.name == key)
        value = number(text.strip().removesuffix("s"))
        if told := f"{shown(text)} is not a number" if value is None else flaw(kind, value):
            raise click.BadParameter(told)
        return value if get_args(kind)[0] is Fraction else float(value or 0)

    return read


PROJECT = click.argument("project", type=click.Path(path_type=Path))
RECIPE = click.option(
    "--recipe",
    type=click.Path(path_type=Path),
    metavar="FILE",
    multiple=True,
    help="House style in TOML, or a name that `recipe` lists; may be given again: later ones overrule.",
)
SEQUENCE = click.option(
    "--sequence", default="", metavar="NAME", help="The edit to work on, in a document that holds several."
)
KEEP_CHANGED = click.option(
    "--keep-changed",
    is_flag=True,
    help="Keep clips on our tracks that were changed by hand since the last run.",
)
ANEW = click.option(
    "--anew",
    is_flag=True,
    help="Plan all cover from nothing, also where a shot was deleted by hand since the last run.",
)
NORMALISE = click.option(
    "--normalise",
    is_flag=True,
    help="One gain on the whole film brings it to the recipe's loudness. [default: -23 LUFS, -1 dBTP]",
)
NO_LOOK = click.option(
    "--no-look", is_flag=True, help="Do not look at pictures: quicker, but all moments count alike."
)
NO_WORDS = click.option(
    "--no-words", is_flag=True, help="Do not listen for words: quicker; only transcripts count, as they are."
)
NO_MEND = click.option(
    "--no-mend", is_flag=True, help="Leave your own cuts and levels: edits in speech are only listened to."
)
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON on standard output.")
DEBUG = click.option("--debug", is_flag=True, help="Show the full traceback of a failure.")
PINS = click.option(
    "--pins",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write what no name tells as a recipe to correct, with the reasons.",
)
FORCE = click.option("--force", is_flag=True, help="Replace an output that exists. Never the original.")
SEPARATION = click.option(
    "--separation",
    type=figure("DuckRules", "separation_lu"),
    metavar="LU",
    help="Loudness of speech above all that sounds beneath it; 20 meets WCAG SC 1.4.7."
    " [default: the recipe's, 15]",
)


OUTPUT = click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="OUT",
    help="The new project. [default: beside the original, numbered if taken]",
)
DRY_RUN = click.option("--dry-run", is_flag=True, help="Show the edits; write no project.")
NO_CHOICES = click.option(
    "--no-choices", is_flag=True, help="Plan as if nothing had been decided on the film before."
)


_QUIET = click.option("-q", "--quiet", is_flag=True, help="Tell only what was written, and what needs you.")
VERBOSE = click.option("-v", "--verbose", is_flag=True, help="Tell every edit with its reason.")


class Written(TypedDict):
    """What every command that writes a new project is given besides its own."""

    quiet: bool
    verbose: bool
    output: Path | None
    sequence: str
    dry_run: bool
    as_json: bool
    force: bool
    debug: bool


class Common(Written):
    """What `planning` gives a command besides the project and the recipe."""

    choices: Path | None
    no_choices: bool
    plan_file: Path | None
    page: Path | None
    for_comments: bool


def writing(command: Command) -> Command:
    """The options of every command that writes a new project of what is there already."""
    for option in reversed((PROJECT, OUTPUT, SEQUENCE, DRY_RUN, _QUIET, VERBOSE, AS_JSON, FORCE, DEBUG)):
        command = option(command)
    return command


def planning(command: Command) -> Command:
    """The options of every command that writes a new project."""
    for option in reversed(
        (
            PROJECT,
            OUTPUT,
            RECIPE,
            click.option(
                "--choices",
                type=click.Path(path_type=Path),
                metavar="FILE",
                help="What was decided on the film; it is obeyed before all else."
                " [default: FILM.choices.toml beside the project, if it is there]",
            ),
            NO_CHOICES,
            SEQUENCE,
            click.option(
                "--plan",
                "plan_file",
                type=click.Path(path_type=Path),
                metavar="FILE.json",
                help="Write the edits with their reasons as JSON.",
            ),
            click.option(
                "--page",
                type=click.Path(path_type=Path),
                metavar="FILE.html",
                help="Write a page on which the plan is heard, seen and decided on.",
            ),
            click.option(
                "--for-comments",
                is_flag=True,
                help="The page is for someone who comments: words, pictures and sound, no figures.",
            ),
            DRY_RUN,
            _QUIET,
            VERBOSE,
            AS_JSON,
            FORCE,
            DEBUG,
        )
    ):
        command = option(command)
    return command


seconds = figure("PauseWish", "length_s")
"""A length in seconds, exact: 2 or 2.5."""


def minutes(text: str) -> float:
    """A length in minutes, up to a week."""
    value = number(text)
    if value is None or not 0 < value <= WEEK_MIN:
        raise click.BadParameter(f"{shown(text)} should be minutes, above 0, up to {WEEK_MIN}")
    return float(value)


_ABSOLUTE = r"(?:/|[A-Za-z]:[/\\]|\\\\)"


def two_folders(text: str) -> tuple[str, str]:
    """HERE=THERE: a folder of this machine, and the same as others call it."""
    found = re.fullmatch(rf"({_ABSOLUTE}.+?)=({_ABSOLUTE}.+)", text, re.DOTALL)
    if found is None:
        raise click.BadParameter(f"{shown(text)} is not HERE=THERE, such as /mnt/a=/media/a")
    return found[1], found[2]


def pause_place(text: str) -> tuple[str, Fraction]:
    """T=SECONDS: a place and the length of the pause there. The last = divides: a marker may hold others."""
    place, mark, length = text.rpartition("=")
    if not mark or not place.strip():
        raise click.BadParameter(f"{shown(text)} is not T=SECONDS, such as 00:01:10:00=4")
    return place.strip(), seconds(length)


PAUSES = click.option(
    "--pause",
    "pauses",
    type=pause_place,
    metavar="T=SECONDS",
    multiple=True,
    help="Open a natural-sound pause at T (timecode, f1234 or marker text); may be given again.",
)


class Wishes(TypedDict):
    """What `wishing` gives a command: all that the whole pass is asked for besides the recipe."""

    pauses: Sequence[tuple[str, Fraction]]
    separation: float | None
    normalise: bool
    keep_changed: bool
    no_look: bool
    no_words: bool
    no_mend: bool


def wishing(command: Command) -> Command:
    """The options of the whole pass, for one project or for many."""
    for option in reversed((PAUSES, SEPARATION, NORMALISE, KEEP_CHANGED, NO_LOOK, NO_WORDS, NO_MEND)):
        command = option(command)
    return command


class WholePass(Wishes, Common):
    """What both give a command together."""


def apart(given: WholePass) -> tuple[Wishes, Common]:
    """The options of a command that is both `wishing` and `planning`, each by its own kind."""
    names = Wishes.__annotations__
    wishes = {name: value for name, value in given.items() if name in names}
    common = {name: value for name, value in given.items() if name not in names}
    return cast("Wishes", wishes), cast("Common", common)


JUNIT = click.option(
    "--junit",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the answers as JUnit XML, which build servers show.",
)
