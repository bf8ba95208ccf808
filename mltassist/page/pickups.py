"""Shots to film on the next shooting day: of one film or of many, put together by what is to be filmed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

FilmFigures = tuple[str, Mapping[str, Any]]
"""Its name, and the figures of its plan: `pick_ups` and `unfilmed` of them."""


def to_film(films: Iterable[FilmFigures]) -> list[dict[str, Any]]:
    """What is to be filmed, the largest need first: `subject` ("": anything), `sizes`, `seconds`, `places`.

    Each place that lacks a shot stands once, under the subject that serves the most of them: so the fewest
    things have to be filmed. `other` names what would do there too. Of a place: `film`, `at`, `time`,
    `seconds`, `why`, `words`, `other`.
    """
    left = [_place(name, row) for name, figures in films for row in figures.get("pick_ups", ())]
    rows: list[dict[str, Any]] = []
    while named := _most_named(left):
        here = [place for place in left if named in place["subjects"]]
        left = [place for place in left if named not in place["subjects"]]
        rows.append(_row(named, here))
    rows.sort(key=lambda row: (-row["seconds"], row["subject"]))
    return [*rows, *([_row("", left)] if left else [])]


def never_filmed(films: Iterable[FilmFigures]) -> list[dict[str, Any]]:
    """Words said often of which there is no picture: `word`, `times`, `films` with its first time."""
    found: dict[str, dict[str, Any]] = {}
    for name, figures in films:
        for row in figures.get("unfilmed", ()):
            one = found.setdefault(row["word"], {"word": row["word"], "times": 0, "films": {}})
            one["times"] += row["times"]
            one["films"][name] = row["timecode"]
    return sorted(found.values(), key=lambda row: (-row["times"], row["word"]))


def _place(film: str, row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "film": film,
        "at": row.get("at"),
        "time": row["timecode"],
        "seconds": row["seconds"],
        "why": _why(len(row.get("cuts", ()))),
        "words": row.get("words", ""),
        "subjects": {one["subject"]: list(one["sizes"]) for one in row.get("subjects", ())},
    }


def _why(cuts: int) -> str:
    if not cuts:
        return "narration without a picture"
    return "a jump cut is open to the eye" if cuts == 1 else f"{cuts} jump cuts are open to the eye"


def _most_named(places: Iterable[Mapping[str, Any]]) -> str:
    """The subject under which most seconds could be filmed, of equals the first; "" where none is named."""
    wanted: dict[str, float] = {}
    for place in places:
        for subject in place["subjects"]:
            wanted[subject] = wanted.get(subject, 0.0) + place["seconds"]
    return min(wanted, key=lambda subject: -wanted[subject], default="")


def _row(subject: str, places: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    sizes = dict.fromkeys(size for place in places for size in place["subjects"].get(subject, ()))
    return {
        "subject": subject,
        "sizes": list(sizes),
        "seconds": round(sum(place["seconds"] for place in places), 1),
        "places": [
            {key: value for key, value in place.items() if key != "subjects"}
            | {"other": [one for one in place["subjects"] if one != subject]}
            for place in places
        ],
    }
