"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TypedDict, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., object])

PROJECT = click.argument("project", type=click.Path(path_type=Path))
RECIPE = click.option(
    "--recipe",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="House style in TOML; see docs/recipe.md.",
)
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON on standard output.")
DEBUG = click.option("--debug", is_flag=True, help="Show the full traceback of a failure.")
FORCE = click.option("--force", is_flag=True, help="Replace an output that exists. Never the original.")
SEPARATION = click.option(
    "--separation",
    type=click.FloatRange(0, 40),
    metavar="LU",
    help="Loudness of speech above music; 20 meets WCAG SC 1.4.7. [default: the recipe's, 15]",
)


class Common(TypedDict):
    """What `planning` gives a command besides the project and the recipe."""

    output: Path | None
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
    try:
        length = Fraction(text.strip().removesuffix("s").replace(",", "."))
    except (ValueError, ZeroDivisionError):
        length = Fraction(0)
    if not 0 < length <= 3600:
        raise click.BadParameter(f"{text!r} is not a length between 0 and 3600 seconds")
    return length


def pause_place(text: str) -> tuple[str, Fraction]:
    """T=SECONDS: a place and the length of the pause there. The last = divides: a marker may hold others."""
    place, mark, length = text.rpartition("=")
    if not mark or not place.strip():
        raise click.BadParameter(f"{text!r} is not T=SECONDS, such as 00:01:10:00=4")
    return place.strip(), seconds(length)
