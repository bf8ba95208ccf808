"""The example film with every telling name, tag, folder and transcript taken away."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from mltassist.demofilm import scenario
from mltassist.demofilm.film import Film
from mltassist.timeline.elements import Element
from tests.cli.films import EXAMPLE, LAYOUTS

_ELEMENTS = {
    "interview": Element.INTERVIEW,
    "narration": Element.NARRATION,
    "music": Element.MUSIC,
    "cutaways": Element.CUTAWAY,
    "natural": Element.CUTAWAY,  # a camera's picture in which nobody speaks; its sound serves as well
}


@dataclass(frozen=True)
class Nameless:
    """The film, by new file name the one it had, and what each file is."""

    film: Film
    was: dict[str, str]
    truth: dict[str, Element | None]


def nameless() -> Nameless:
    """Files are numbered as a camera does, folders and tracks too; the edit is the same."""
    film = scenario.film()
    was: dict[str, str] = {}
    for number, rush in enumerate(film.rushes, start=1):
        was[f"media/Part {1 + number % 2}/C{number:04}{Path(rush.file).suffix}"] = rush.file
    now = {old: new for new, old in was.items()}
    rushes = tuple(
        replace(
            r, file=now[r.file], name=Path(now[r.file]).name, folder=f"Part {1 + i % 2}", tags=(), note=""
        )
        for i, r in enumerate(film.rushes, start=1)
    )
    lanes = tuple(
        replace(
            lane,
            name=f"V{number}" if lane.picture else f"A{number}",
            placements=tuple(replace(p, file=now[p.file]) for p in lane.placements),
        )
        for number, lane in enumerate(film.lanes, start=1)
    )
    truth: dict[str, Element | None] = {new: _ELEMENTS[old.split("/")[1]] for new, old in was.items()}
    marks = tuple(replace(mark, text=f"{number}") for number, mark in enumerate(film.marks, start=1))
    bare = replace(film, title="untitled", rushes=rushes, lanes=lanes, marks=marks)
    return Nameless(bare, was, truth)


def write(made: Nameless, folder: Path, layout: str) -> Path:
    """Document and media (links to the example's) in a folder; nothing lies beside the media."""
    for new, old in made.was.items():
        target = folder / new
        target.parent.mkdir(parents=True, exist_ok=True)
        if not target.exists():
            target.symlink_to(EXAMPLE / old)
    path = folder / layout
    path.write_bytes(LAYOUTS[layout](made.film))
    return path
