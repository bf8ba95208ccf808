"""The page of the recipe names every key, and its examples are recipes."""

from __future__ import annotations

import re
from fractions import Fraction

from mltassist.recipe.rules import parse_recipe
from mltassist.timeline.elements import Element
from tests.docs import pages


def test_the_table_is_made_from_the_recipe_itself() -> None:
    assert pages.part(pages.RECIPE, "keys") == pages.recipe_table(), "python -m tests.docs.renew"


def test_the_worked_example_is_a_recipe_without_mistakes() -> None:
    blocks = re.findall(r"^```toml\n(.*?)^```$", pages.RECIPE.read_text("utf-8"), re.DOTALL | re.MULTILINE)
    assert len(blocks) == 1
    recipe = parse_recipe(blocks[0])
    assert recipe.cover.shot_ideal_s == 5
    assert recipe.duck.in_pause == "out"
    assert [(wish.at, wish.length_s) for wish in recipe.pauses] == [("let the wheel be heard", Fraction(4))]
    assert recipe.pins["A3"] is Element.MUSIC
    assert recipe.vocabulary().spoken_of("Gespräche mit Anna") == (Element.INTERVIEW, "gespräch*")
