"""The page of a season: one file of plain HTML that links each film and sums the lists over all of them."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import quote

from lxml import etree
from lxml.html import builder as h
from lxml.html import tostring

from mltassist.document.save import permit, save_text
from mltassist.page.paper import harmless, is_of, permit_sheet, save_sheet, sheet_beside
from mltassist.page.pickups import to_film
from mltassist.season.sums import Episode, hidden_of_all, shots_of_all, spare_of_all

_CAUTION = (
    "Whether what is left is fair to the people who spoke, you decide, with your producer and the editorial"
    " code of your house; the law and licensed practice come first."
)
_MADE_BY = "mltassist, the page of a season"
_FIGURES = ("jump_cuts", "jump_cuts_covered", "jump_cuts_left", "shots")
Cell = Any
"""Text, a number, or an element."""


@dataclass(frozen=True, slots=True)
class Line:
    """One film on the page. page: its own page, if there is one; problem: why there is no result."""

    film: Episode
    project: Path
    output: Path | None
    page: Path | None
    problem: str
    check: int
    figures: dict[str, Any]


def permit_page(projects: Iterable[Path], target: Path, *, force: bool = False) -> None:
    """Raise OutputError unless the page may be written: one of ours is replaced, another file by `force`."""
    for project in projects:
        permit(project, target, force=force or is_of(target, _MADE_BY))
        permit_sheet(project, target, force=force)


def save_page(lines: Sequence[Line], target: Path, *, force: bool = False) -> None:
    """Write the page, whole or not at all. Raises OutputError."""
    permit_page((line.project for line in lines), target, force=force)
    first = lines[0].project if lines else target.with_name("")
    wanted = [(line.film.name, line.figures) for line in lines if not line.problem]
    save_sheet(wanted, target, first, force=force)
    save_text(season_page(lines, target), target, original=first, force=force or is_of(target, _MADE_BY))


def season_page(lines: Sequence[Line], place: Path) -> str:
    """The whole page as text; links are those from the folder of `place`."""
    films = [line.film for line in lines if not line.problem]
    failed = len(lines) - len(films)
    title = f"A season of {len(lines)} film{'' if len(lines) == 1 else 's'}"
    body = h.BODY(
        h.MAIN(
            h.H1(title),
            h.P(
                h.CLASS("soft"),
                f"{len(films)} covered" + (f", {failed} failed" if failed else "") + ". " + _CAUTION,
            ),
            *_films(lines, place.parent),
            *_shots(films),
            *_spare(films),
            *_pick_ups(films),
            h.P(
                h.A(
                    "One sheet to print, with boxes to tick", href=_address(sheet_beside(place), place.parent)
                )
            ),
            *_hidden(films),
        )
    )
    viewport = h.META(name="viewport", content="width=device-width, initial-scale=1")
    own = files("mltassist.season") / "season.css"
    base = files("mltassist.page") / "static" / "page.css"  # the look of the pages of its films
    style = "\n".join(sheet.read_text(encoding="utf-8") for sheet in (base, own))
    made_by = h.META(name="generator", content=_MADE_BY)
    head = h.HEAD(h.META(charset="utf-8"), made_by, viewport, h.TITLE(title), h.STYLE(style))
    whole = h.HTML(head, body, lang="en")
    page: str = tostring(whole, doctype="<!DOCTYPE html>", encoding="unicode", pretty_print=True)
    return page


def _films(lines: Sequence[Line], folder: Path) -> Iterator[Cell]:
    rows = []
    for line in lines:
        linked = line.page or line.output
        name = _parted(line.film.name)
        shown = h.A(*name, href=_address(linked, folder)) if linked is not None else h.SPAN(*name)
        if line.problem:
            rows.append([shown, h.SPAN(h.CLASS("bad"), harmless(line.problem))])
        else:
            rows.append([shown, *(line.figures.get(key, "") for key in _FIGURES), line.check])
    heads = ["film", "jump cuts", "covered now", "left", "shots", "to check"]
    yield from _table("Films", heads, rows, "", numbers={1, 2, 3, 4, 5})


def _shots(films: Sequence[Episode]) -> Iterator[Cell]:
    rows = [
        [harmless(row["name"]), row["times"], f"{row['seconds']:.1f}", _counted(row["films"])]
        for row in shots_of_all(films)
    ]
    none = "No cutaway is seen in any film."
    yield from _table("Shots in use", ["shot", "times", "seconds", "films"], rows, none, numbers={1, 2})


def _spare(films: Sequence[Episode]) -> Iterator[Cell]:
    rows = [
        [harmless(row["name"]), f"{row['seconds']:.1f}", _counted(row["films"]) or "not used"]
        for row in spare_of_all(films)
    ]
    none = "None: the recipe names none under [season] spare."
    yield from _table("Shots kept for later", ["shot", "seconds", "films"], rows, none, numbers={1})


def _pick_ups(films: Sequence[Episode]) -> Iterator[Cell]:
    rows = [
        [
            harmless(row["subject"]) or h.SPAN(h.CLASS("soft"), "any"),
            harmless(", ".join(row["sizes"])),
            f"{row['seconds']:.1f}",
            h.SPAN(*_places(row["places"])),
        ]
        for row in to_film((film.name, {"pick_ups": film.pick_ups}) for film in films)
    ]
    heads = ["subject", "sizes", "seconds", "where"]
    yield from _table("Shots still to film", heads, rows, "None is missing.", numbers={2})


def _places(places: Sequence[dict[str, str]]) -> Iterator[Cell]:
    for number, place in enumerate(places):
        if number:
            yield h.BR()
        yield harmless(f"{place['film']} {place['time']}")
        if place["words"]:
            yield h.SPAN(h.CLASS("soft"), harmless(f" {place['words']}"))


def _hidden(films: Sequence[Episode]) -> Iterator[Cell]:
    rows = [
        [
            harmless(row["speaker"]),
            row["edits"],
            row["turned"],
            f"{row['removed_s']:.1f}",
            _counted(row["films"]),
        ]
        for row in hidden_of_all(films)
    ]
    heads = ["speaker", "edits", "order turned", "seconds taken out", "films"]
    none = "No edit in speech lies under another picture."
    yield from _table("Edits that are hidden, by speaker", heads, rows, none, numbers={1, 2, 3})


def _counted(films: dict[str, int]) -> str:
    return harmless(", ".join(f"{name} {times}\u00a0×" for name, times in films.items()))


def _parted(name: str) -> Iterator[Cell]:
    """A name in which a line may end behind each folder, and nowhere within a word."""
    for number, part in enumerate(harmless(name).split("/")):
        if number:
            yield "/"
            yield h.E.wbr()
        yield part


def _table(
    title: str, heads: Sequence[str], rows: Sequence[Sequence[Cell]], none: str, *, numbers: set[int]
) -> Iterator[Cell]:
    yield h.H2(title)
    if not rows:
        yield h.P(h.CLASS("soft"), none)
        return
    number = {at: h.CLASS("number") for at in numbers}
    top = h.TR(*(_cell(h.TH, head, number.get(at), scope="col") for at, head in enumerate(heads)))
    below = [h.TR(*(_cell(h.TD, cell, number.get(at)) for at, cell in enumerate(row))) for row in rows]
    for row in below:
        if (short := len(heads) - len(row)) > 0:  # what is told instead of figures has all their room
            row[-1].attrib.update({"colspan": str(short + 1), "class": ""})
    table = h.TABLE(
        h.CAPTION(f"{len(rows)} row{'' if len(rows) == 1 else 's'}"), h.THEAD(top), h.TBODY(*below)
    )
    yield h.DIV(h.CLASS("far"), table, tabindex="0", role="region", **{"aria-label": title})


def _cell(make: Any, content: Cell, attributes: dict[str, str] | None, **others: str) -> etree._Element:  # noqa: ANN401
    inner = content if isinstance(content, etree._Element) else str(content)
    cell: etree._Element = make(inner, **others)
    for name, value in (attributes or {}).items():
        cell.set(name, value)
    return cell


def _address(path: Path, folder: Path) -> str:
    """The way from a folder to a file as an address; elsewhere than on one disk, from its root."""
    try:
        relative = os.path.relpath(path.absolute(), folder.absolute())
    except ValueError:
        return path.absolute().as_uri()
    return quote(Path(relative).as_posix(), errors="surrogateescape")
