"""Films judged by the rules of a recipe, shown to people."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mltassist.cli.exits import Exit
from mltassist.cli.saying import say

if TYPE_CHECKING:
    from collections.abc import Callable

    from mltassist.conforming.judge import Conformity
    from mltassist.conforming.junit import Judged
    from mltassist.project import Project
    from mltassist.recipe.rules import Recipe


def one(
    project: Project,
    recipe: Sequence[Path],
    *,
    no_look: bool,
    junit: Path | None,
    as_json: bool,
    force: bool,
) -> int:
    """Judge one film and show the answers."""
    from mltassist.cli import screen
    from mltassist.conforming.judge import conform
    from mltassist.conforming.junit import Judged, permit_junit, save_junit
    from mltassist.recipe.rules import load_recipe

    rules = load_recipe(recipe)
    if junit is not None:
        permit_junit([project.path], junit, force=force)
    began = time.monotonic()
    with screen.progress() as told:
        found = conform(project, recipe=rules, no_look=no_look, on_progress=told)
    if junit is not None:
        save_junit([Judged(project.path, found, seconds=time.monotonic() - began)], junit, force=force)
    if as_json:
        screen.print_json({"version": 2, **found.as_dict()})
    else:
        _print_answers(found)
    _print_breaches(found)
    return Exit.DONE if found.conforms else Exit.CHECK


def many(
    projects: Sequence[Path],
    recipe: Recipe,
    options: dict[str, Any],
    *,
    junit: Path | None,
    as_json: bool,
    force: bool,
) -> int:
    """Judge many films and show the answers."""
    from mltassist.cli import screen
    from mltassist.season.checks import check_all

    with _counting() as (on_found, on_done):
        judged = check_all(
            projects, recipe=recipe, junit=junit, force=force, on_done=on_done, on_found=on_found, **options
        )
    if as_json:
        screen.print_json({"version": 2, "films": [film.as_dict() for film in judged]})
    else:
        _print_films(judged)
    for film in judged:
        if film.conformity is not None:
            _print_breaches(film.conformity, f"{film.project}: ")
    if all(film.conformity is None for film in judged):
        say("mltassist: no film could be judged; see the result", err=True)
        return Exit.NOTHING_WRITTEN
    conform = all(film.conformity is not None and film.conformity.conforms for film in judged)
    return Exit.DONE if conform else Exit.CHECK


@contextmanager
def _counting() -> Iterator[tuple[Callable[[int], None], Callable[[object], None]]]:
    """Two callables that draw a bar: told how many there are, and of each that is done."""
    from mltassist.cli import screen

    with screen.progress() as told:
        count, done = 0, 0

        def on_found(number: int) -> None:
            nonlocal count
            count = number

        def on_done(_: object) -> None:
            nonlocal done
            done += 1
            if told is not None:
                told("films", done / count)

        yield on_found, on_done


def _print_answers(found: Conformity) -> None:
    from mltassist.cli import screen
    from mltassist.cli.rows import Rows

    table = Rows("rule", "kept", "asked", "found", box=None, pad_edge=False)
    for answer in found.answers:
        places = len(answer.breaches)
        kept = "yes" if answer.kept else f"no, {places} place{'s' if places > 1 else ''}"
        table.add_row(answer.rule, kept, answer.asked, answer.found)
    screen.out().print(table)


def _print_films(judged: Sequence[Judged]) -> None:
    from mltassist.cli import screen
    from mltassist.cli.parted import Parted
    from mltassist.cli.rows import Rows

    table = Rows("film", "conforms", "rules not kept", box=None, pad_edge=False)
    for film in judged:
        if film.conformity is None:
            table.add_row(Parted(str(film.project)), "not judged", film.problem)
            continue
        broken = ", ".join(answer.rule for answer in film.conformity.answers if not answer.kept)
        table.add_row(Parted(str(film.project)), "no" if broken else "yes", broken or "-")
    screen.out().print(table)


def _print_breaches(found: Conformity, of: str = "") -> None:
    for answer in found.answers:
        for breach in answer.breaches:
            say(f"check: {of}{answer.rule}: {found.told(breach)}", err=True)
    for note in found.notes:
        say(f"check: {of}{note.told(found.rate)}", err=True)
