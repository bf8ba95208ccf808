"""Pauses that are asked of a whole season: films without the place go without, and a slip is told."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

import mltassist
from mltassist.errors import NoSuchPlace
from mltassist.recipe.rules import PauseWish
from mltassist.season.pause_places import pauses_in, refuse_unknown
from tests.cli.films import scarce, short, with_file, write

WHEEL = "let the wheel be heard"


@pytest.fixture
def films(tmp_path) -> list[Path]:
    """One with a marker, one that names it otherwise, and one that is no project."""
    broken = tmp_path / "broken.mlt"
    broken.write_text("<mlt")
    one = write(scarce(short(1000)), tmp_path, "host.kdenlive")
    other = with_file(write(scarce(short(1000)), tmp_path, "shotcut.mlt"), WHEEL, "the sluice")
    return [broken, one, other]


def test_a_film_has_the_pauses_whose_places_it_has(films):
    asked = [(WHEEL, Fraction(4)), ("f100", Fraction(2)), ("f90000", Fraction(2))]
    recipe = (PauseWish("the sluice", Fraction(3)), PauseWish("f200", Fraction(3)))
    one, other = (pauses_in(mltassist.open(film).timeline, recipe, asked) for film in films[1:])
    assert (one.asked, one.of_recipe) == (tuple(asked[:2]), recipe[1:])
    assert (other.asked, other.of_recipe) == (tuple(asked[1:2]), recipe)
    assert [note.text for note in one.notes] == [
        "no pause is opened at 'the sluice': no marker says 'the sluice'",
        "no pause is opened at 'f90000': f90000 lies beyond the end of the film, which is 00:00:40:00",
    ]
    assert all(note.needs_editor for note in (*one.notes, *other.notes))
    assert other.notes[0].text == f"no pause is opened at {WHEEL!r}: no marker says {WHEEL!r}"


def test_a_place_of_no_film_is_refused_before_the_work(films):
    refuse_unknown(films, [(WHEEL, Fraction(4)), ("the sluice", Fraction(4))])
    with pytest.raises(NoSuchPlace) as told:
        refuse_unknown(films, [(WHEEL, Fraction(4)), ("the wheal", Fraction(4))])
    assert str(told.value) == (
        f"2 films: 'the wheal' is a place in none of them; there are {WHEEL!r}, 'the sluice';"
        " give one of them, a timecode or f-number"
    )
    with pytest.raises(NoSuchPlace, match="no marker says 'the wheal'; there are 'let the"):
        refuse_unknown(films[:2], [("the wheal", Fraction(4))])
    refuse_unknown(films[:1], [("the wheal", Fraction(4))])  # what is not opened may have it
