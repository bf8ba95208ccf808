"""The parts of pages that are made from the program, each between a pair of markers."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

from click.testing import CliRunner

import mltassist
from mltassist.cli.main import command
from mltassist.frames import format_timecode
from mltassist.recipe.rules import Recipe
from mltassist.rushes.survey import Survey
from mltassist.timeline.cuts import CutKind
from mltassist.timeline.elements import Element

ROOT = Path(__file__).parents[2]
COMMANDS = ROOT / "docs" / "commands.md"
RECIPE = ROOT / "docs" / "recipe.md"
FILM = ROOT / "example_projects" / "saltreed"
SALTREED = FILM / "README.md"
WIDTH = 100


def written() -> list[Path]:
    """Every page that is read by people."""
    return sorted(
        page
        for place in ("", "docs", "docs/decisions", "example_projects", "example_projects/*")
        for page in ROOT.glob(f"{place}/*.md" if place else "*.md")
    )


def part(page: Path, name: str) -> str:
    """What stands between the markers of this name."""
    begin, end = _marks(name)
    text = page.read_text(encoding="utf-8")
    return text[text.index(begin) + len(begin) : text.index(end)].strip("\n")


def renewed(page: Path, name: str, content: str) -> str:
    """The page's text with other content between the markers."""
    begin, end = _marks(name)
    text = page.read_text(encoding="utf-8")
    return text[: text.index(begin) + len(begin)] + f"\n{content}\n" + text[text.index(end) :]


def _marks(name: str) -> tuple[str, str]:
    verb = ("begins", "ends") if name == "help" else ("begin", "end")
    return f"<!-- {name} {verb[0]} -->", f"<!-- {name} {verb[1]} -->"


def help_of(name: str) -> str:
    """`mltassist NAME --help` as it is printed at 100 columns; the group's own for an empty name."""
    arguments = [name, "--help"] if name else ["--help"]
    done = CliRunner().invoke(command, arguments, prog_name="mltassist", terminal_width=WIDTH)
    assert done.exit_code == 0, done.output
    return done.output.strip("\n")


def help_texts() -> str:
    """Help of the group and of every command, in the order in which one meets them."""
    blocks = [f"### mltassist\n\n```text\n{help_of('')}\n```"]
    blocks += [f"### {name}\n\n```text\n{help_of(name)}\n```" for name in command.commands]
    return "\n\n".join(blocks)


def recipe_table() -> str:
    """Every key of a recipe with its default and its reason."""
    rows = [
        f"| `{key}` | {f'`{default}`' if default else 'none'} | {bounds} | {why} |"
        for key, default, bounds, why in reference()
    ]
    return "\n".join(("| Key | Default | May be | What it is, and why |", "|---|---|---|---|", *rows))


def survey_of_film() -> Survey:
    """What the survey finds in the example film."""
    return mltassist.survey(mltassist.open(FILM / "saltreed.mlt"))


def film_figures(found: Survey) -> str:
    """The example film in figures."""
    rate, cuts = found.timeline.rate, found.cuts
    jumps = [cut for cut in cuts if cut.kind is CutKind.JUMP]
    cutaways = sum(verdict.element is Element.CUTAWAY for verdict in found.elements.sources.values())
    natural = sum(verdict.element is Element.NATURAL for verdict in found.elements.sources.values())

    def seconds(frames: int) -> str:
        return f"{float(rate.seconds(frames)):.1f} s"

    rows = (
        ("Length", f"{seconds(found.timeline.length)} ({found.timeline.length} frames)"),
        ("Interview on the timeline", seconds(found.on_timeline[Element.INTERVIEW])),
        ("Narration", seconds(found.on_timeline[Element.NARRATION])),
        ("Edits in speech", str(len(cuts))),
        ("Jump cuts", str(len(jumps))),
        ("Jump cuts covered by the cutter", str(sum(cut.covered for cut in jumps))),
        ("Through edits", str(sum(cut.kind is CutKind.THROUGH for cut in cuts))),
        ("Changes of speaker", str(sum(cut.kind is CutKind.CHANGE for cut in cuts))),
        ("Cutaways in the bin", f"{cutaways} shots, {seconds(found.in_bin[Element.CUTAWAY])}"),
        ("Natural sound in the bin", f"{natural} clips, {seconds(found.in_bin[Element.NATURAL])}"),
        ("Rushes to film", f"{float(found.shooting_ratio or 0):.1f} to 1"),
    )
    return "\n".join(("| | |", "|---|---|", *(f"| {what} | {value} |" for what, value in rows)))


def film_edits(found: Survey) -> str:
    """Every edit in the speech of the example film."""
    rows = [
        f"| {format_timecode(cut.at, found.timeline.rate)} | {cut.kind.value} | {cut.removed or ''} "
        f"| {'covered' if cut.covered else ''} |"
        for cut in found.cuts
    ]
    return "\n".join(("| Edit at | Kind | Frames left out | |", "|---|---|---|---|", *rows))


def reference() -> list[tuple[str, str, str, str]]:
    """Every key of a recipe with its default, what else it may be, and its reason."""
    rows = []
    for part in fields(Recipe):
        default = part.default if part.default_factory is not dict else {}
        if not is_dataclass(default):
            rows.append((part.name, "", "", part.metadata["why"]))
            continue
        for item in fields(default):
            value = getattr(default, item.name)
            told = list(value) if isinstance(value, tuple) else value
            shown = f"{float(told):g}" if isinstance(told, Fraction) else str(told).lower()
            rows.append((f"{part.name}.{item.name}", shown, _allowed(item.type), item.metadata["why"]))
    return rows


def _allowed(kind: Any) -> str:
    """What a figure or a choice of this type may be, in words."""
    simple = {bool: "true or false", str: "text", tuple[str, ...]: "a list of texts"}
    if kind in simple:
        return simple[kind]
    return " or ".join(get_args(kind)) if get_origin(kind) is Literal else str(get_args(kind)[1])
