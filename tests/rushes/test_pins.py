"""Guesses as a recipe: every name is written so that it means that very clip, and the recipe can be read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from mltassist.recipe.rules import Recipe, parse_recipe
from mltassist.rushes.pins import pins_recipe
from mltassist.timeline.elements import Element, Elements, Identification, find_elements
from tests.timeline.films import in_bin, timeline

SURE = Identification(
    Element.CUTAWAY,
    "by evidence, cutaway (99%: nobody speaks)",
    True,
    0.99,
    seems=Element.CUTAWAY,
    judged=True,
)
UNKNOWN = Identification(None, "unknown, perhaps music\n(55%)", False, 0.55, seems=Element.MUSIC, judged=True)
SCREEN = Identification(None, "by evidence, a screen", True, 0.99, judged=True)


def written(taken: dict[str, Identification], *names: str) -> str:
    film = replace(timeline(bin_clips=[in_bin(name) for name in names]), path=Path("/my\nfilm\x01.mlt"))
    return pins_recipe(film, Elements({}, taken), "house.toml")


@pytest.mark.parametrize(
    "name", ['a "b" c.mp4', "a\\b.mp4", "take [1].mp4", "what?.mp4", "a*b.mp4", "ü.mp4", "a\x7fb.mp4"]
)
def test_a_name_means_itself_and_no_other(name: str) -> None:
    taken = {f"/rushes/{name}": SURE, "/rushes/take 1.mp4": Identification(None, "no name tells")}
    recipe = parse_recipe(written(taken, name, "take 1.mp4"))
    film = timeline(bin_clips=[in_bin(name), in_bin("take 1.mp4"), in_bin("axxb.mp4")])
    found = find_elements(film, recipe.vocabulary())
    assert found.of_source(f"/rushes/{name}") is Element.CUTAWAY
    assert found.of_source("/rushes/take 1.mp4") is None
    assert found.of_source("/rushes/axxb.mp4") is None


def test_what_is_unknown_or_none_is_a_comment_with_its_reason_on_one_line() -> None:
    text = written({"/rushes/x.wav": UNKNOWN, "/rushes/y.mp4": SCREEN}, "x.wav", "y.mp4")
    assert '# "x.wav" = "music"  # unknown, perhaps music (55%)' in text
    assert '# "y.mp4" = ""  # by evidence, a screen' in text
    assert parse_recipe(text) == Recipe()


def test_nothing_judged_gives_an_empty_recipe() -> None:
    text = written({"/rushes/x.wav": Identification(Element.MUSIC, "name says 'music'")}, "x.wav")
    assert parse_recipe(text) == Recipe()
