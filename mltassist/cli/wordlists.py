"""The command `words`, and its lists written to files: never over a file of the person's."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from mltassist.cli.carrying import permit_project, save_made
from mltassist.cli.exits import Exit
from mltassist.cli.options import AS_JSON, DEBUG, FORCE, NO_WORDS, PROJECT, RECIPE, SEQUENCE
from mltassist.cli.saying import say

if TYPE_CHECKING:
    from mltassist.cutaways.wordlist import Words
    from mltassist.project import Project

_ENDINGS = (".csv", ".json", ".srt")


@click.command()
@click.option("--removed", is_flag=True, help="Also what was cut between bites, and where it is hidden.")
@click.option("--find", "find_text", default="", metavar="TEXT", help="Where in all rushes this is said.")
@click.option("--save", is_flag=True, help="Write what is said as subtitles (SRT) beside the project.")
@click.option(
    "--list",
    "list_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="With --removed: write the list; its ending tells how (.csv, .json, .srt).",
)
@click.option("--mark", is_flag=True, help="With --find: leave markers there, on bin clips of a new project.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="OUT",
    help="With --mark: the new project. [default: beside the original, numbered if taken]",
)
@NO_WORDS
@FORCE
@PROJECT
@RECIPE
@SEQUENCE
@AS_JSON
@DEBUG
def words(
    project: Path,
    removed: bool,
    find_text: str,
    save: bool,
    list_file: Path | None,
    mark: bool,
    output: Path | None,
    no_words: bool,
    force: bool,
    recipe: Sequence[Path],
    sequence: str,
    as_json: bool,
    debug: bool,
) -> int:
    """Show what is said in a film, bite by bite, and what was taken out between.

    \b
    Example:
      mltassist words film.kdenlive --removed --list cuts.csv
      mltassist words film.kdenlive --find "the wheel" --mark
    """
    from mltassist.cli import screen, wordtables
    from mltassist.cutaways import wordlist
    from mltassist.project import open_project
    from mltassist.recipe.rules import load_recipe

    rules, opened = load_recipe(recipe), open_project(project, sequence=sequence)
    if mark:
        if not find_text.strip():
            raise click.UsageError("--mark marks what --find finds: give both")
        permit_project(opened, output, force=force)
    elif output is not None:
        raise click.UsageError("-o names the project that --mark writes: give both")
    if list_file is not None:
        if not removed:
            raise click.UsageError("--list writes what --removed finds: give both")
        permit_list(opened, list_file, force=force)
    with screen.progress() as told:
        found = wordlist.words(
            opened,
            recipe=rules,
            removed=removed,
            find_text=find_text,
            mark=mark,
            no_words=no_words,
            on_progress=told,
        )
    written = [save_words(found, opened)] if save else []
    written += [save_list(found, opened, list_file, force=force)] if list_file is not None else []
    if found.plan is not None:
        written.append(save_made(found.plan.apply(opened), "words", output, force=force))
    if as_json:
        screen.print_json({**found.as_dict(), "written": [str(path) for path in written]})
    else:
        wordtables.print_words(found)
        for path in written:
            say(f"written: {path}")
    screen.print_notes(found.notes, found.rate)
    return Exit.CHECK if any(note.needs_editor for note in found.notes) else Exit.DONE


def permit_list(project: Project, target: Path, *, force: bool) -> None:
    """Refuse a list that may not be written, before the work and not after it."""
    from mltassist.document import save

    if target.suffix.lower() not in _ENDINGS:
        raise click.UsageError(f"--list: {target.name} must end in one of {', '.join(_ENDINGS)}")
    save.permit(project.path, target, force=force)


def save_words(found: Words, project: Project) -> Path:
    """What is said as subtitles, beside the project under a name that is free."""
    from mltassist.document.save import free_name, save_text

    return save_text(found.as_srt(), free_name(project.path, "-words", ".srt"), original=project.path)


def save_list(found: Words, project: Project, target: Path, *, force: bool) -> Path:
    """What was taken out, in the form that the file's ending tells."""
    from mltassist.cutaways.hidden import as_csv, as_srt
    from mltassist.document.save import save_text

    edits = found.removed or ()
    texts = {
        ".csv": lambda: as_csv(edits, found.rate),
        ".json": lambda: json.dumps([edit.as_dict() for edit in edits], ensure_ascii=False, indent=2) + "\n",
        ".srt": lambda: as_srt(edits, found.rate),
    }
    return save_text(texts[target.suffix.lower()](), target, original=project.path, force=force)
