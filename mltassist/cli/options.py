"""Options that several commands share."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TypedDict, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., object])


def separation(text: str) -> float:
    """A loudness difference in LU, 0 to 40."""
    try:
        found = float(text)
    except ValueError:
        found = -1.0
    if not 0 <= found <= 40:  # neither is nan, which is within any range by click's own
        raise click.BadParameter(f"{text!r} is not a difference between 0 and 40 LU")
    return found


def decibels(text: str) -> float:
    """A change of level in dB, 0 to 100."""
    try:
        found = float(text)
    except ValueError:
        found = -1.0
    if not 0 <= found <= 100:
        raise click.BadParameter(f"{text!r} is not a level between 0 and 100 dB")
    return found


PROJECT = click.argument("project", type=click.Path(path_type=Path))
RECIPE = click.option(
    "--recipe",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="House style in TOML; see docs/recipe.md.",
)
SEQUENCE = click.option(
    "--sequence", default="", metavar="NAME", help="The edit to work on, in a document that holds several."
)
KEEP_CHANGED = click.option(
    "--keep-changed",
    is_flag=True,
    help="Keep clips on our tracks that were changed by hand since the last run.",
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
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON on standard output.")
DEBUG = click.option("--debug", is_flag=True, help="Show the full traceback of a failure.")
FORCE = click.option("--force", is_flag=True, help="Replace an output that exists. Never the original.")
SEPARATION = click.option(
    "--separation",
    type=separation,
    metavar="LU",
    help="Loudness of speech above music; 20 meets WCAG SC 1.4.7. [default: the recipe's, 15]",
)


class Common(TypedDict):
    """What `planning` gives a command besides the project and the recipe."""

    output: Path | None
    sequence: str
    plan_file: Path | None
    dry_run: bool
    as_json: bool
    force: bool
    debug: bool


def planning(command: Command) -> Command:
    """The options of every command that writes a new project."""
    for option in reversed(
        (
            PROJECT,
            click.option(
                "-o",
                "--output",
                type=click.Path(path_type=Path),
                metavar="OUT",
                help="The new project. [default: beside the original, numbered if taken]",
            ),
            RECIPE,
            SEQUENCE,
            click.option(
                "--plan",
                "plan_file",
                type=click.Path(path_type=Path),
                metavar="FILE.json",
                help="Write the edits with their reasons as JSON.",
            ),
            click.option("--dry-run", is_flag=True, help="Show the edits; write no project."),
            AS_JSON,
            FORCE,
            DEBUG,
        )
    ):
        command = option(command)
    return command


def seconds(text: str) -> Fraction:
    """A length in seconds, exact: 2 or 2.5."""
    length = _decimal(text)
    if not 0 < length <= 3600:
        raise click.BadParameter(f"{text!r} is not a length between 0 and 3600 seconds")
    return length


def seconds_or_none(text: str) -> Fraction:
    """A time in seconds that may be nothing: 0, 2 or 2.5."""
    time = _decimal(text)
    if not 0 <= time <= 3600:
        raise click.BadParameter(f"{text!r} is not a time from 0 to 3600 seconds")
    return time


def _decimal(text: str) -> Fraction:
    """A number of seconds; -1 for what is none."""
    plain = text.strip().removesuffix("s").rstrip().replace(",", ".")
    # Plain decimals only: an exponent such as 1e999999999 would fill the memory.
    return Fraction(plain) if re.fullmatch(r"\d{1,4}(\.\d{1,9})?|\.\d{1,9}", plain) else Fraction(-1)


def pause_place(text: str) -> tuple[str, Fraction]:
    """T=SECONDS: a place and the length of the pause there. The last = divides: a marker may hold others."""
    place, mark, length = text.rpartition("=")
    if not mark or not place.strip():
        raise click.BadParameter(f"{text!r} is not T=SECONDS, such as 00:01:10:00=4")
    return place.strip(), seconds(length)
