"""The command that serves the page of a project to the person who decides on it."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Unpack

import click

from mltassist.cli.exits import Exit
from mltassist.cli.options import AS_JSON, DEBUG, PROJECT, RECIPE, SEQUENCE, Wishes, minutes, wishing
from mltassist.cli.saying import say


@click.command()
@PROJECT
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="OUT",
    help="Where the new project is written when the page is told to. [default: beside the original]",
)
@RECIPE
@SEQUENCE
@wishing
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    metavar="N",
    help="The port. [default: any that is free]",
)
@click.option(
    "--leave",
    type=minutes,
    default="15",
    metavar="MINUTES",
    help="End when the page was left for so long. [default: 15]",
)
@AS_JSON
@DEBUG
def review(
    project: Path,
    output: Path | None,
    recipe: Sequence[Path],
    sequence: str,
    port: int,
    leave: float,
    as_json: bool,
    debug: bool,
    **wishes: Unpack[Wishes],
) -> int:
    """Serve the page of a whole pass to this machine alone: hear, see, decide, write.

    Open the address that is printed. What you decide is kept beside the project at once; what it changes is
    planned anew, and so is all when you save the project in your editor. The page writes the new project when
    it is told to. Needs the extra: pip install "mltassist[review]"

    \b
    Example:
      mltassist review film.kdenlive --pause "let the wheel be heard=5"
    """
    from mltassist.document import save
    from mltassist.page import review as served
    from mltassist.project import open_project
    from mltassist.recipe.rules import load_recipe

    def told(address: str) -> None:
        if as_json:
            say(json.dumps({"version": 1, "address": address}))
        else:
            say(address)
            say("for this machine alone; Ctrl-C ends it", err=True)
        sys.stdout.flush()

    rules, opened = load_recipe(recipe), open_project(project, sequence=sequence)
    _ = opened.timeline  # what cannot be read is told here, and not on the page
    if output is not None:
        save.permit(opened.path, output)
    with suppress(KeyboardInterrupt):
        served.review(
            opened,
            recipe=rules,
            port=port,
            leave=leave,
            target=output,
            on_address=told,
            **wishes,
        )
    return Exit.DONE
