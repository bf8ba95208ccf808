"""Recipes that come with the package, and several laid over each other."""

from __future__ import annotations

import json
import tomllib
from fractions import Fraction

import pytest

import mltassist
from mltassist.errors import RecipeError
from mltassist.recipe.layers import plain_rules
from mltassist.recipe.rules import Recipe, load_recipe, parse_recipe
from mltassist.recipe.shipped.listing import recipes
from tests.cli.films import EXAMPLE

PUBLISHED = {
    # EBU R 128 (its page at tech.ebu.ch); ATSC A/85:2013; WCAG 2.x SC 1.4.7. The others from memory.
    "ebu-r128": {"target_lufs": -23, "tolerance_lu": 0.2, "ceiling_dbtp": -1},
    "atsc-a85": {"target_lufs": -24, "tolerance_lu": 2, "ceiling_dbtp": -2},
    "ebu-r128-s1": {"target_lufs": -23, "short_term_max_lufs": -18, "ceiling_dbtp": -1},
    "ebu-r128-s2": {"target_lufs": -18, "tolerance_lu": 2, "ceiling_dbtp": -1},
    "aes-td1008": {"target_lufs": -18, "ceiling_dbtp": -1},
    "wcag-1.4.7": {},
}


@pytest.fixture
def house(tmp_path):
    (tmp_path / "house.toml").write_text('forbid = ["a"]\nlog_sheets = ["x.csv"]\n[duck]\nramp_in_s = 0.25\n')
    film = 'forbid = ["b"]\n[duck]\nseparation_lu = 18\n[delivery]\ntarget_lufs = -20\n'
    (tmp_path / "film.toml").write_text(film)
    return tmp_path


@pytest.mark.parametrize("name", PUBLISHED)
def test_each_has_its_published_figures_and_their_source(name):
    rules = load_recipe(name)
    assert {key: getattr(rules.delivery, key) for key in PUBLISHED[name]} == PUBLISHED[name]
    (shipped,) = recipes(name)
    assert "# Source: " in shipped.text
    assert shipped.text.startswith(f"# {shipped.title}\n")
    assert tomllib.loads(shipped.text)


def test_all_that_come_with_it_are_told_and_no_other():
    assert {one.name for one in recipes()} == set(PUBLISHED)
    with pytest.raises(RecipeError, match="only aes-td1008, "):
        recipes("none")
    with pytest.raises(RecipeError, match="cannot be read"):
        load_recipe("none")
    assert load_recipe("ebu-r128") == Recipe()  # the figures of the house style are those
    wcag = load_recipe("WCAG-1.4.7").duck
    assert (wcag.separation_lu, wcag.natural_separation_lu, wcag.cutaway_separation_lu) == (20, 20, 20)


def test_later_ones_overrule_key_by_key_and_lists_as_a_whole(house):
    rules = load_recipe(["wcag-1.4.7", "atsc-a85", house / "house.toml", house / "film.toml"])
    assert (rules.duck.separation_lu, rules.duck.natural_separation_lu) == (18, 20)
    assert rules.duck.ramp_in_s == Fraction(1, 4)
    assert (rules.delivery.target_lufs, rules.delivery.ceiling_dbtp) == (-20, -2)
    assert rules.forbid == ("b",)
    assert rules.log_sheets == (str(house / "x.csv"),)  # from the folder of the one that names it
    assert load_recipe([]) == Recipe()


def test_a_mistake_is_told_with_the_file_it_stands_in(house):
    (house / "film.toml").write_text("[cover]\nshot_min_s = 7\n")
    with pytest.raises(RecipeError) as told:
        load_recipe([house / "house.toml", house / "film.toml"])
    assert str(told.value).startswith(f"{house / 'film.toml'}: line 2: ")
    assert "house.toml" not in str(told.value)
    (house / "film.toml").write_text("[cover]\nshot_min_s = 7\nnone = 1\n")
    (house / "house.toml").write_text("[cover]\nshot_ideal_s = 7.5\nshot_max_s = 8\nmore = 1\n")
    with pytest.raises(RecipeError, match=r"house\.toml: line 4: cover: .*more; .*film\.toml: line 3"):
        load_recipe([house / "house.toml", house / "film.toml"])


def test_all_rules_are_plain_data():
    text = '[pins]\n"a*" = "music"\n[[pauses]]\nat = "f9"\nlength_s = 2.5\n[cover]\nshot_min_s = 1.5\n'
    data = json.loads(json.dumps(plain_rules(parse_recipe(text))))
    assert data["cover"]["shot_min_s"] == 1.5
    assert data["pins"] == {"a*": "music"}
    assert data["pauses"] == [{"at": "f9", "length_s": 2.5}]


def test_every_plan_tells_the_rules_it_was_made_by():
    project = mltassist.open(EXAMPLE / "saltreed.mlt")
    plan = mltassist.pause(project, at=["f532"], length=Fraction(2), recipe=load_recipe("atsc-a85"))
    assert plan.as_dict()["recipe"]["delivery"]["target_lufs"] == -24
