"""The command `recipe`."""

from __future__ import annotations

import click

from mltassist.cli.exits import Exit
from mltassist.cli.options import AS_JSON, DEBUG
from mltassist.cli.saying import say


@click.command()
@click.argument("name", default="")
@AS_JSON
@DEBUG
def recipe(name: str, as_json: bool, debug: bool) -> int:
    """Show a recipe that comes with mltassist, with its comments; without a name, list them all.

    Each has the figures of one kind of delivery, with their published source. Give its name to any command
    with --recipe, before a house recipe of your own.

    \b
    Example:
      mltassist recipe ebu-r128
    """
    from mltassist.cli import screen
    from mltassist.cli.rows import Rows
    from mltassist.recipe.shipped.listing import recipes

    shipped = recipes(name)
    if as_json:
        screen.print_json({"version": 1, "recipes": [one.as_dict() for one in shipped]})
    elif name:
        for line in shipped[0].text.splitlines():
            say(line)
    else:
        table = Rows("name", "for", box=None, pad_edge=False)
        for one in shipped:
            table.add_row(one.name, one.title)
        screen.out().print(table)
    return Exit.DONE
