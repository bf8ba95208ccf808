"""Faults of structure and of picture, told apart."""

from __future__ import annotations

import json

import mltassist
from mltassist.rushes.faults import new_faults
from mltassist.timeline.picturefaults import PictureFault
from tests.cli.films import EXAMPLE

FILM = EXAMPLE / "saltreed.mlt"
BLACK = "nothing is seen here: the picture is black"


def test_check_tells_structure_and_picture_apart(run):
    told = run("check", FILM, "--json")
    assert told.status == 0  # the structure is sound; a picture is for an editor to judge
    found = json.loads(told.out)
    assert found["faults"] == []
    assert [row["what"] for row in found["picture"]] == [BLACK] * 3
    notes = [note.text for note in mltassist.survey(mltassist.open(FILM)).notes]
    assert notes.count(BLACK) == 3
    shown = run("check", FILM).out
    structure, _, picture = shown.partition("picture")
    assert "no faults found in the structure" in structure
    assert picture.count(BLACK) == 3
    for row in found["picture"]:
        assert row["timecode"] in picture


def test_check_against_the_original_tells_new_faults_of_picture_alone(run):
    told = json.loads(run("check", FILM, "--against", FILM, "--json").out)
    assert told == {"version": 1, "faults": [], "picture": []}


def test_a_fault_that_came_twice_where_it_was_once_is_new():
    one, later, other = PictureFault(3, BLACK), PictureFault(90, BLACK), PictureFault(50, "a picture flashes")
    assert new_faults([one, other, later], [later]) == (other, later)
    assert new_faults([one], [one, later]) == ()
