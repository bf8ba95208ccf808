"""The command that listens to the edits in speech, and mends them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Unpack

import click

from mltassist.cli.carrying import carry_out, choices_for, permit_outputs, say_written
from mltassist.cli.exits import Exit
from mltassist.cli.options import NO_WORDS, Common, planning
from mltassist.cli.paging import say_page, write_page
from mltassist.cli.saying import say


@click.command()
@click.option(
    "--clips",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write a sound file for every edit: speech alone, two seconds either side.",
)
@click.option(
    "--reel",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write all edits as one sound file with chapters (.m4a, .mp3, .ogg, .mka).",
)
@click.option("--mend", is_flag=True, help="Move joins that are heard by a few frames: write a new project.")
@NO_WORDS
@planning
def listen(
    project: Path,
    clips: Path | None,
    reel: Path | None,
    mend: bool,
    no_words: bool,
    recipe: Sequence[Path],
    **common: Unpack[Common],
) -> int:
    """Judge by measurement which edits in speech are heard, and why; mend what can be mended.

    \b
    Example:
      mltassist listen film.kdenlive --mend --clips edits
    """
    from mltassist import api
    from mltassist.cli import screen
    from mltassist.document.save import permit as permit_name
    from mltassist.project import open_project
    from mltassist.recipe.rules import load_recipe

    if not mend:
        _refuse_writing(common, forced=bool(common["page"] or reel))
    rules, opened = load_recipe(recipe), open_project(project, sequence=common["sequence"])
    mending = mend or common["page"] is not None
    chosen = choices_for(project, common) if mending else None
    if mending:
        permit_outputs(opened, "listen", common)
    if reel is not None:
        permit_name(opened.path, reel, force=common["force"])
    with screen.progress() as told:
        found = api.listen(
            opened,
            recipe=rules,
            choices=chosen,
            clips=clips,
            reel=reel,
            mend=mend,
            no_words=no_words,
            on_progress=told,
        )
        made = found.plan or found.as_plan()
        write_page(made, opened, rules, chosen, common, told, no_words=no_words)
    written = carry_out(found.plan, opened, common) if found.plan is not None else None
    if common["as_json"]:
        screen.print_json({**found.as_dict(), "output": None if written is None else str(written)})
    else:
        if not common["quiet"]:
            screen.print_hearing(found, opened.timeline.rate)
        if found.plan is not None:
            say_written(found.plan, written, opened, common)
        for sounds in (clips, reel):
            if sounds is not None:
                say(f"written: {sounds}")
    screen.print_notes(found.notes, opened.timeline.rate, quiet=common["quiet"])
    say_page(common)
    return Exit.CHECK if any(note.needs_editor for note in found.notes) else Exit.DONE


def _refuse_writing(common: Common, *, forced: bool) -> None:
    """Refuse options of a new project where none is planned; `forced`: --force is for another file."""
    writing = ("output", "plan_file", "dry_run", "choices", "no_choices", *(() if forced else ("force",)))
    if any(common.get(name) for name in writing):
        raise click.UsageError(
            "without --mend nothing is planned: -o, --plan, --choices, --dry-run and --force need it"
        )
