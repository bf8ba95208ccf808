"""What was shot: the survey, its tables of the bin and of what evidence tells, and its recipe of pins."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import click

from mltassist.cli.exits import Exit
from mltassist.cli.rows import Rows
from mltassist.cli.wording import seconds
from mltassist.frames import Rate, format_timecode

if TYPE_CHECKING:
    from pathlib import Path

    from mltassist.api import Survey
    from mltassist.timeline.elements import Identification

MOST_ROWS = 20
"""Clips of one kind that are each told on their own; --json has them all."""
_CERTAIN = 0.99
"""Highest chance that is told: evidence is never a proof."""


def show_survey(
    project: Path, recipe: Sequence[Path], pins: Path | None, *, sequence: str, force: bool, as_json: bool
) -> int:
    """Survey a project, write the pins where a file is given, and print what was found."""
    from mltassist import api
    from mltassist.cli import screen
    from mltassist.document import save
    from mltassist.project import open_project
    from mltassist.recipe.rules import load_recipe

    rules, opened = load_recipe(recipe), open_project(project, sequence=sequence)
    if pins is not None:
        save.permit(opened.path, pins, force=force)  # before the work, and not after it
    with screen.progress() as told:
        found = api.survey(opened, recipe=rules, on_progress=told)
    if pins is not None:
        save.save_text(found.pins(pins.name), pins, original=opened.path, force=force)
    if as_json:
        screen.print_json(found.as_dict())
    else:
        print_survey(found)
        if pins is not None:
            click.echo(f"written: {pins}")
    screen.print_notes(found.notes, found.timeline.rate)
    return Exit.CHECK if any(note.needs_editor for note in found.notes) else Exit.DONE


def print_survey(found: Survey) -> None:
    """Elements, tracks and edits of a project."""
    from mltassist.cli import screen

    timeline, rate = found.timeline, found.timeline.rate
    console = screen.out()
    length = format_timecode(timeline.length, rate)
    console.print(
        f"{timeline.path.name}: {timeline.host} project, {length}, {float(rate.fraction):g} frames a second"
    )
    table = Rows("element", "in the film", "in the bin", box=None, pad_edge=False)
    for element, frames in found.on_timeline.items():
        table.add_row(
            element.value, *(f"{float(rate.seconds(n)):.1f} s" for n in (frames, found.in_bin[element]))
        )
    console.print(table)
    if (ratio := found.shooting_ratio) is not None:
        console.print(f"rushes to film (interviews, cutaways, natural sound): {float(ratio):.1f} to 1")
    table = Rows("track", "kind", "name", "clips", "element", "why", box=None, pad_edge=False)
    for track in found.timeline.tracks:
        taken = found.elements.tracks[track.index]
        state = "".join(f", {word}" for word in ("locked", "hidden", "muted") if getattr(track, word))
        table.add_row(
            str(track.index),
            track.kind.value,
            track.name + state,
            str(sum(1 for _ in track.clips())),
            taken.element.value if taken.element else "?",
            taken.why + ("" if taken.sure else " (not sure: pin it in a recipe)"),
        )
    console.print(table)
    console.print(bin_table(found))
    for part in evidence_tables(found):
        console.print(part)
    if found.log_sheets:
        moments = sum(map(len, found.logged.values()))
        sheets = ", ".join(sheet.name for sheet in found.log_sheets)
        console.print(f"log sheets ({sheets}): moments: {moments}, clips: {len(found.logged)}")
    names = {track.index: track.name for track in timeline.tracks}
    table = Rows("edit at", "track", "kind", "source left out", "", box=None, pad_edge=False)
    for cut in found.cuts:
        table.add_row(
            format_timecode(cut.at, rate),
            names[cut.track],
            cut.kind.value,
            _left_out(cut.removed, rate),
            "covered" if cut.covered else "",
        )
    if found.cuts:
        console.print(table)
    else:
        console.print("no edit in speech")


def _left_out(frames: int, rate: Rate) -> str:
    """What a cut leaves out of its source, which it may also go back in."""
    many = abs(frames)
    told = f"{many} frame{'s' if many > 1 else ''}"
    told += f", {seconds(many, rate)}" if many >= rate.fraction else ""
    return "" if not frames else told if frames > 0 else f"back by {told}"


def bin_table(found: Survey) -> Rows:
    """The bin, a row for each folder."""
    folders: dict[str, list[Identification]] = {}
    for clip in found.timeline.bin:
        folders.setdefault(clip.folder or "top", []).append(found.elements.sources[clip.source.key])
    table = Rows("bin", "clips", "element", "why", box=None, pad_edge=False)
    for folder, taken in folders.items():
        table.add_row(folder, str(len(taken)), _elements(taken), _why(taken))
    return table


def _elements(taken: Sequence[Identification]) -> str:
    counts = Counter(_element(one) for one in taken)
    if len(counts) == 1:
        return next(iter(counts))
    return ", ".join(f"{count} {element}" for element, count in counts.most_common())


def _element(taken: Identification) -> str:
    if taken.element is not None:
        return taken.element.value
    return "none (screen)" if taken.judged and taken.seems is None else "?"


def _why(taken: Sequence[Identification]) -> str:
    """The reason where there is one; else how many are told by what."""
    judged = [one for one in taken if one.judged]
    reasons = list(dict.fromkeys(one.why for one in taken if not one.judged))
    others = len(reasons) - 1
    more = f", and {others} other reason{'' if others == 1 else 's'}"
    parts = reasons if others < 1 else [f"{reasons[0]}{more}"]
    if judged:
        sure = sum(one.sure for one in judged)
        parts.append(f"by evidence: {sure} sure, {len(judged) - sure} not")
    return "; ".join(parts)


def evidence_tables(found: Survey) -> Iterator[Rows | str]:
    """What rests on evidence: what is sure, what is a guess, what is unknown; each clip once."""
    judged = {
        clip.source.key: (clip.name, found.elements.sources[clip.source.key])
        for clip in found.timeline.bin
        if found.elements.sources[clip.source.key].judged
    }
    rows = sorted(judged.values(), key=lambda row: (row[1].chance, row[0]))
    sure = [row for row in rows if row[1].sure]
    doubtful = [row for row in rows if not row[1].sure]
    if sure:
        table = Rows("sure, by evidence", "clips", "chance", "because", box=None, pad_edge=False)
        for element in dict.fromkeys(_element(taken) for _, taken in sure):
            of = [row for row in sure if _element(row[1]) == element]
            table.add_row(element, _names(of), _chances(of), _reason(of))
        yield table
    for title, wanted in (("a guess", True), ("unknown", False)):
        of = [row for row in doubtful if (row[1].element is not None or row[1].seems is None) is wanted]
        if not of:
            continue
        table = Rows(title, "perhaps", "chance", "because", box=None, pad_edge=False)
        for name, taken in of[:MOST_ROWS]:
            perhaps = taken.element or taken.seems
            table.add_row(name, perhaps.value if perhaps else "screen", _chance(taken), _reasons(taken))
        if len(of) > MOST_ROWS:
            table.add_row(f"and {len(of) - MOST_ROWS} more", "", "", "--json lists them all")
        yield table
    if judged:
        yield "to correct this: survey --pins house.toml, then --recipe house.toml with any command"


def _names(rows: Sequence[tuple[str, Identification]]) -> str:
    few = ", ".join(name for name, _ in rows[:2])
    return few if len(rows) <= 2 else f"{len(rows)}: {few} ..."


def _chances(rows: Sequence[tuple[str, Identification]]) -> str:
    first, last = _chance(rows[0][1]), _chance(rows[-1][1])
    return first if first == last else f"{first} to {last}"


def _chance(taken: Identification) -> str:
    return f"{min(taken.chance, _CERTAIN):.0%}"


def _reason(rows: Sequence[tuple[str, Identification]]) -> str:
    from mltassist.rushes.guesses import told_for_all

    return told_for_all([taken.reasons[0][0] if taken.reasons else "" for _, taken in rows])


def _reasons(taken: Identification) -> str:
    return "; ".join(words for words, _ in taken.reasons)
