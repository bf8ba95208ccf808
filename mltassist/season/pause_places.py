"""Pauses asked of a whole season: a film without the place goes without; a place of no film is a slip."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from mltassist.errors import MltAssistError, NoSuchPlace
from mltassist.plans import Note
from mltassist.recipe.rules import PauseWish
from mltassist.timeline.model import Timeline
from mltassist.timeline.places import find_place, to_choose_from

AskedPause = tuple[str, Fraction]
"""A place as it was given, and the seconds of the pause there."""


class Pauses(NamedTuple):
    """What of the pauses asked for can be opened in a film, and a note for each of the others."""

    of_recipe: tuple[PauseWish, ...]
    asked: tuple[AskedPause, ...]
    notes: tuple[Note, ...]


def pauses_in(timeline: Timeline, of_recipe: Iterable[PauseWish], asked: Iterable[AskedPause]) -> Pauses:
    """Part what is asked of all films into what this one has, and notes on the rest."""
    notes = dict[Note, None]()

    def is_there(text: str) -> bool:
        try:
            find_place(timeline, text)
        except NoSuchPlace as error:
            why = str(error).removeprefix(f"{error.path}: ").partition(";")[0]
            notes[Note(f"no pause is opened at {text!r}: {why}", needs_editor=True)] = None
            return False
        return True

    kept = tuple(wish for wish in of_recipe if is_there(wish.at))
    return Pauses(kept, tuple(pause for pause in asked if is_there(pause[0])), tuple(notes))


def refuse_unknown(projects: Sequence[Path], asked: Iterable[AskedPause]) -> None:
    """Raise NoSuchPlace for a place that is in none of the films that can be opened.

    Films are opened only until each place is found.
    """
    from mltassist.project import open_project

    missing = dict.fromkeys(text for text, _ in asked)
    seen, reasons = list[Timeline](), dict[str, NoSuchPlace]()
    for path in projects:
        if not missing:
            return
        try:
            timeline = open_project(path).timeline
        except MltAssistError:  # whoever does the work on it tells
            continue
        seen.append(timeline)
        for text in list(missing):
            try:
                find_place(timeline, text)
            except NoSuchPlace as error:
                reasons.setdefault(text, error)
            else:
                del missing[text]
    for text in missing if seen else ():
        if len(seen) == 1:
            raise reasons[text]
        advice = to_choose_from(marker for timeline in seen for marker in timeline.markers)
        raise NoSuchPlace(f"{len(seen)} films", f"{text!r} is a place in none of them", advice)
