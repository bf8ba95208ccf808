"""The sheet for a shooting day as a file of plain HTML, made to be printed: boxes to tick, no script."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import Any

from mltassist.document.save import permit, save_text
from mltassist.files import open_ordinary
from mltassist.page.pickups import Film, never_filmed, to_film

_OBEYED = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)
"""Controls, and marks that turn the direction of writing (UAX 9): shown as what they are, never obeyed."""
MADE_BY = "mltassist, shots to film"
_WHOLE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="generator" content="{made_by}">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>To film</title>
<style>{style}</style>
</head>
<body class="sheet"><main>
<h1>To film on the next shooting day</h1>
<p class="lead">{lead}</p>
{wanted}
{asked}
</main></body>
</html>
"""
_GROUP = """<section class="wanted">
<h2><span class="box large" aria-hidden="true"></span> <bdi>{subject}</bdi>
<span class="long">{seconds}</span></h2>
{sizes}
<table><thead><tr>{heads}</tr></thead><tbody>
{rows}
</tbody></table>
</section>"""
_ASKED = """<section class="wanted">
<h2>Spoken of and never filmed</h2>
<ul class="asked">
{rows}
</ul>
</section>"""
_BOX = '<span class="box" aria-hidden="true"></span>'
_NOTHING = '<p class="plain">Nothing is missing: every place that should have a shot has one.</p>'


def sheet_beside(page: Path) -> Path:
    """Where the sheet of a season lies, by where its page does."""
    return page.with_name(f"{page.stem}-to-film.html")


def permit_sheet(original: Path, page: Path, *, force: bool = False) -> None:
    """Raise OutputError unless the sheet may be written: one of ours is replaced, another file by `force`."""
    target = sheet_beside(page)
    permit(original, target, force=force or is_of(target, MADE_BY))


def save_sheet(films: Sequence[Film], page: Path, original: Path, *, force: bool = False) -> Path:
    """Write the sheet beside a page of all films. Raises OutputError."""
    permit_sheet(original, page, force=force)
    target = sheet_beside(page)
    return save_text(sheet_html(films), target, original=original, force=force or is_of(target, MADE_BY))


def sheet_html(films: Sequence[Film]) -> str:
    """The sheet of these films as one file that needs no other."""
    wanted, asked, several = to_film(films), never_filmed(films), len(films) != 1
    style = "\n".join(
        files("mltassist.page").joinpath("static", name).read_text(encoding="utf-8")
        for name in ("page.css", "sheet.css")
    )
    lead = f"{len(films)} films" if several else _text(films[0][0])
    if wanted:
        seconds, many = (sum(row["seconds"] for row in wanted), sum(len(row["places"]) for row in wanted))
        lead = f"{_counted(many, 'shot')} for {lead}, {seconds:.1f} s in all"
    return _WHOLE.format(
        made_by=MADE_BY,
        style=style,
        lead=lead,
        wanted="\n".join(_group(row, several=several) for row in wanted) or _NOTHING,
        asked=_ASKED.format(rows="\n".join(_line(row, several=several) for row in asked)) if asked else "",
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


def _group(row: Mapping[str, Any], *, several: bool) -> str:
    heads = (*(("film",) if several else ()), "at", "seconds", "why, and what is said there")
    sizes = "".join(f"<li>{_BOX} <bdi>{_text(size)}</bdi></li>" for size in row["sizes"])
    return _GROUP.format(
        subject=_text(row["subject"]) or "Any cutaway",
        seconds=f"{row['seconds']:.1f} s",
        sizes=f'<ul class="sizes" aria-label="Sizes">{sizes}</ul>' if sizes else "",
        heads="".join(f'<th scope="col">{head}</th>' for head in heads),
        rows="\n".join(f"<tr>{''.join(_cells(place, several=several))}</tr>" for place in row["places"]),
    )


def _cells(place: Mapping[str, Any], *, several: bool) -> Iterable[str]:
    if several:
        yield f"<td><bdi>{_text(place['film'])}</bdi></td>"
    yield f'<td class="time">{_text(place["time"])}</td>'
    yield f"<td>{place['seconds']:.1f}</td>"
    other = f"; or {', '.join(map(_text, place['other']))}" if place["other"] else ""
    said = f'<span class="quote" dir="auto">{_text(place["words"])}</span>' if place["words"] else ""
    yield f"<td>{_text(place['why'])}{other}{said}</td>"


def _line(row: Mapping[str, Any], *, several: bool) -> str:
    at = (f"{film} {time}" if several else time for film, time in row["films"].items())
    said = f"said {_counted(row['times'], 'time')}: {', '.join(map(_text, at))}"
    return f"<li>{_BOX} <q>{_text(row['word'])}</q>, {said}</li>"


def _counted(many: int, one: str) -> str:
    return f"{many} {one}{'' if many == 1 else 's'}"


def _text(text: str) -> str:
    return escape(harmless(text))
