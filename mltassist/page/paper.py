"""The sheet for a shooting day as a file of plain HTML, made to be printed: boxes to tick, no script."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from lxml.html import builder as h
from lxml.html import tostring

from mltassist.document.save import permit, save_text
from mltassist.files import open_ordinary
from mltassist.page.pickups import FilmFigures, never_filmed, to_film

_OBEYED = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)
"""Controls, and marks that turn the direction of writing (UAX 9): shown as what they are, never obeyed."""
MADE_BY = "mltassist, shots to film"
Piece = Any
"""An element, as its builder gives it."""
_POLICY = {
    "http-equiv": "Content-Security-Policy",
    "content": "default-src 'none'; style-src 'unsafe-inline'",
}


def sheet_beside(page: Path) -> Path:
    """Where the sheet of a season lies, by where its page does."""
    return page.with_name(f"{page.stem}-to-film.html")


def permit_sheet(original: Path, page: Path, *, force: bool = False) -> None:
    """Raise OutputError unless the sheet may be written: one of ours is replaced, another file by `force`."""
    target = sheet_beside(page)
    permit(original, target, force=force or is_of(target, MADE_BY))


def save_sheet(films: Sequence[FilmFigures], page: Path, original: Path, *, force: bool = False) -> Path:
    """Write the sheet beside a page of all films. Raises OutputError."""
    permit_sheet(original, page, force=force)
    target = sheet_beside(page)
    return save_text(sheet_html(films), target, original=original, force=force or is_of(target, MADE_BY))


def sheet_html(films: Sequence[FilmFigures]) -> str:
    """The sheet of these films as one file that needs no other."""
    wanted, asked, several = to_film(films), never_filmed(films), len(films) != 1
    lead = f"{len(films)} films" if several else harmless(films[0][0])
    if wanted:
        seconds, many = (sum(row["seconds"] for row in wanted), sum(len(row["places"]) for row in wanted))
        lead = f"{_counted(many, 'shot')} for {lead}, {seconds:.1f} s in all"
    nothing = h.P(h.CLASS("plain"), "Nothing is missing: every place that should have a shot has one.")
    main = h.MAIN(
        h.H1("To film on the next shooting day"),
        h.P(h.CLASS("lead"), lead),
        *([_group(row, several=several) for row in wanted] or [nothing]),
        *([_asked(asked, several=several)] if asked else []),
    )
    whole = h.HTML(_head(), h.BODY(h.CLASS("sheet"), main), lang="en")
    page: str = tostring(whole, doctype="<!doctype html>", encoding="unicode", pretty_print=True)
    return page


def _head() -> Piece:
    style = "\n".join(
        files("mltassist.page").joinpath("static", name).read_text(encoding="utf-8")
        for name in ("page.css", "sheet.css")
    )
    return h.HEAD(
        h.META(charset="utf-8"),
        h.META(name="viewport", content="width=device-width, initial-scale=1"),
        h.META(name="generator", content=MADE_BY),
        h.META(**_POLICY),
        h.TITLE("To film"),
        h.STYLE(style),
    )


def is_of(path: Path, made_by: str) -> bool:
    """True for a page that says at its head that it is of this kind."""
    try:
        with open_ordinary(path) as file:
            return made_by.encode() in file.read(2_000)
    except OSError:
        return False


def harmless(text: str) -> str:
    """The text with controls and turns of direction shown, not obeyed."""
    return _OBEYED.sub("\ufffd", text)


def _group(row: Mapping[str, Any], *, several: bool) -> Piece:
    heads = (*(("film",) if several else ()), "at", "seconds", "why, and what is said there")
    sizes = [h.LI(_box(), " ", h.BDI(harmless(size))) for size in row["sizes"]]
    return h.SECTION(
        h.CLASS("wanted"),
        h.H2(
            _box("box large"),
            " ",
            h.BDI(harmless(row["subject"]) or "Any cutaway"),
            " ",
            h.SPAN(h.CLASS("long"), f"{row['seconds']:.1f} s"),
        ),
        *([h.UL(h.CLASS("sizes"), *sizes, **{"aria-label": "Sizes"})] if sizes else []),
        h.TABLE(
            h.THEAD(h.TR(*(h.TH(head, scope="col") for head in heads))),
            h.TBODY(*(h.TR(*_cells(place, several=several)) for place in row["places"])),
        ),
    )


def _cells(place: Mapping[str, Any], *, several: bool) -> Iterator[Piece]:
    if several:
        yield h.TD(h.BDI(harmless(place["film"])))
    yield h.TD(h.CLASS("time"), harmless(place["time"]))
    yield h.TD(f"{place['seconds']:.1f}")
    other = f"; or {', '.join(place['other'])}" if place["other"] else ""
    said = [h.SPAN(h.CLASS("quote"), harmless(place["words"]), dir="auto")] if place["words"] else []
    yield h.TD(harmless(place["why"] + other), *said)


def _asked(rows: Iterable[Mapping[str, Any]], *, several: bool) -> Piece:
    lines = [h.LI(_box(), " ", h.Q(harmless(row["word"])), _said(row, several=several)) for row in rows]
    return h.SECTION(h.CLASS("wanted"), h.H2("Spoken of and never filmed"), h.UL(h.CLASS("asked"), *lines))


def _said(row: Mapping[str, Any], *, several: bool) -> str:
    at = (f"{film} {time}" if several else time for film, time in row["films"].items())
    return harmless(f", said {_counted(row['times'], 'time')}: {', '.join(at)}")


def _box(look: str = "box") -> Piece:
    return h.SPAN(h.CLASS(look), **{"aria-hidden": "true"})


def _counted(many: int, one: str) -> str:
    return f"{many} {one}{'' if many == 1 else 's'}"
