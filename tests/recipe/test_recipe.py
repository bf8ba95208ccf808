"""Recipes: what is read, and that every mistake is told where it stands."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from fractions import Fraction
from math import inf, nan
from pathlib import Path

import pytest

from mltassist.errors import FigureError, RecipeError
from mltassist.recipe.rules import (
    CoverRules,
    DeliveryRules,
    DuckRules,
    MendRules,
    PauseWish,
    Recipe,
    Weights,
    load_recipe,
    parse_recipe,
)
from mltassist.timeline.bounds import is_figure
from mltassist.timeline.elements import Element
from tests.docs.pages import reference


def mistakes(text: str) -> list[str]:
    with pytest.raises(RecipeError) as caught:
        parse_recipe(text, "house.toml")
    told = str(caught.value)
    assert told.startswith("house.toml: ")
    assert "\n" not in told
    return told.removeprefix("house.toml: ").split("; ")


def test_an_empty_recipe_is_the_house_style() -> None:
    assert parse_recipe("") == Recipe() == load_recipe(None)


def test_only_what_is_named_changes_and_seconds_are_exact() -> None:
    recipe = parse_recipe("[cover]\nmargin_s = 0.1\nnarration = false\n[duck]\nseparation_lu = 20\n")
    assert recipe.cover.margin_s == Fraction(1, 10)
    assert not recipe.cover.narration
    assert recipe.cover.shot_min_s == Recipe().cover.shot_min_s
    assert recipe.duck.separation_lu == 20.0
    assert recipe.pause == Recipe().pause


def test_pauses_words_and_pins_are_read() -> None:
    recipe = parse_recipe(
        '[[pauses]]\nat = "00:01:00:00"\nlength_s = 4.5\n'
        '[words]\nmusic = ["Klangteppich"]\n[pins]\n"V2" = "natural sound"\n[also]\n"C1*" = "natural sound"\n'
    )
    assert recipe.pauses == (PauseWish("00:01:00:00", Fraction(9, 2)),)
    assert recipe.pins == {"V2": Element.NATURAL}
    assert recipe.also == {"C1*": Element.NATURAL}
    found = recipe.vocabulary().spoken_of("klangteppich 2")
    assert found == (Element.MUSIC, "klangteppich")


@pytest.mark.parametrize("figures", ["least = 0.97", "sure = 0.5", "sure = 1.5", "least = -0.1"])
def test_chances_of_guesses_rise_from_0_to_1(figures: str) -> None:
    with pytest.raises(
        RecipeError,
        match=r"line 2: guesses(: least .* is more than sure|\.(sure|least): .* should be 0 to 1)",
    ):
        parse_recipe(f"[guesses]\n{figures}\n")


def test_every_mistake_is_told_with_its_own_line() -> None:
    text = """\
# a house style
hurry = true

[cover]
handle_s = 1
shot_min = 2
edge_frames = 2.5

[pause]
handle_s = "x"
lead_frames = -1

[duck]
in_pause = "loud"
separation_lu = nan
ramp_in_s = -0.5

[[pauses]]
at = "a"
length_s = 2

[[pauses]]
at = 3
length_s = "q"

[[pauses]]
at = "c"

[words]
music = "musique"

[pins]
"a.wav" = "noise"
"""
    assert mistakes(text) == [
        "line 2: unknown key hurry",
        "line 6: cover: unknown key shot_min",
        "line 7: cover.edge_frames: 2.5 should be a whole number",
        'line 10: pause.handle_s: "x" should be a number of seconds',
        "line 11: pause.lead_frames: -1 should be 0 to 1000",
        """line 14: duck.in_pause: "loud" should be "under" or "out\"""",
        "line 15: duck.separation_lu: nan is not a number that can be used",
        "line 16: duck.ramp_in_s: -0.5 should be 0 to 3600",
        "line 23: pauses[1].at: 3 should be text in quotes",
        'line 24: pauses[1].length_s: "q" should be a number of seconds',
        "line 26: pauses[2].length_s: is missing",
        'line 30: words.music: "musique" should be a list of words in quotes',
        "line 33: pins['a.wav']: 'noise' is none of interview, narration, cutaway, natural sound, music",
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("cover = 3\n", ["line 1: cover: 3 should be a table"]),
        ("\ncover.handle_s = true\n", ["line 2: cover.handle_s: true should be a number of seconds"]),
        ("duck = {\n}", None),
        ("[cover]\nnarration = 1\n", ["line 2: cover.narration: 1 should be true or false"]),
        (
            "[duck]\ndepth_limit_db = inf\n",
            ["line 2: duck.depth_limit_db: inf is not a number that can be used"],
        ),
        (
            "[cover]\nnarration=true\n[words]\nmusik = []\n",
            ["line 4: words.musik: 'musik' is none of interview, narration, cutaway, natural sound, music"],
        ),
        (
            "[cover]\nshot_min_s = 9\n",
            ["line 2: cover: shot_min_s (9) is more than shot_ideal_s (3.5)"],
        ),
        (
            "[cover]\nmatch_s = 1\nshot_max_s = 3\n\n[duck]\ndepth_limit_db = -5\n",
            [
                "line 3: cover: shot_ideal_s (3.5) is more than shot_max_s (3)",
                "line 6: duck.depth_limit_db: -5 should be 0 to 100",
            ],
        ),
        ("cover = {punch_in = 0}", ["line 1: cover.punch_in: 0 should be above 1, up to 100"]),
        ("[weights]\n\nmatch = -1e-9", ["line 3: weights.match: -1e-09 should be 0 to 1000000"]),
        ("[listen]\nroom_limit_db = 0", ["line 2: listen.room_limit_db: 0 should be above 0, up to 100"]),
        (
            "[listen]\npause_long_s = 0.1",
            ["line 2: listen: pause_short_s (0.11) is more than pause_long_s (0.1)"],
        ),
        (
            "[mend]\nreach_frames = 1" + 80 * "0",
            [f"line 2: mend.reach_frames: 1{38 * '0'}… should be 0 to 1000"],
        ),
        ("[duck]\nbridge_s = 1e300", ["line 2: duck.bridge_s: 1e+300 should be 0 to 3600"]),
        ("[duck]\nbridge_s = 1" + 400 * "0", [f"line 2: duck.bridge_s: 1{38 * '0'}… should be 0 to 3600"]),
        (
            '[[pauses]]\nat = "x"\nlength_s = 0',
            ["line 3: pauses[0].length_s: 0 should be above 0, up to 3600"],
        ),
        ("pauses = 3", ["line 1: pauses: 3 should be a list"]),
        ("words = 3", ["line 1: words: 3 should be a table"]),
        ("forbid = [[[[1]]]]", ["line 1: forbid: [[[[1]]]] should be a list of words in quotes"]),
        ("duck = 1979-05-27", ['line 1: duck: "1979-05-27" should be a table']),
        ("pauses = " + 5000 * "[", None),
        ("[mend]\nreach_frames = " + 5000 * "9", None),
        (
            "[cover]\nmargin_s = 3.5\n",
            ["line 2: cover: a shot of shot_max_s cannot hold margin_s on both sides of a cut"],
        ),
    ],
)
def test_mistakes_of_other_kinds(text: str, told: list[str] | None) -> None:
    found = mistakes(text)
    if told is None:
        assert found[0].startswith("not TOML: ")
        assert "line 1" in found[0] or "recursion" in found[0] or "digits" in found[0]
    else:
        assert found == told


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: DuckRules(depth_limit_db=-5), "DuckRules: depth_limit_db: -5 should be 0 to 100"),
        (lambda: replace(CoverRules(), punch_in=0), "CoverRules: punch_in: 0 should be above 1, up to 100"),
        (lambda: Weights(cover=nan), "Weights: cover: nan is not a number that can be used"),
        (
            lambda: DeliveryRules(inf, True),
            "DeliveryRules: target_lufs: inf is not a number that can be used;",
        ),
        (lambda: DeliveryRules(ceiling_dbtp=True), "DeliveryRules: ceiling_dbtp: true should be a number"),
        (lambda: MendRules(2.5), "MendRules: reach_frames: 2.5 should be a whole number"),
        (lambda: PauseWish("f1", Fraction(0)), "PauseWish: length_s: 0 should be above 0, up to 3600"),
        (lambda: PauseWish("f1", "2"), 'PauseWish: length_s: "2" should be a number of seconds'),
        (
            lambda: CoverRules(shot_min_s=Fraction(7)),
            "CoverRules: shot_min_s (7) is more than shot_ideal_s (3.5)",
        ),
    ],
)
def test_figures_made_in_python_keep_the_same_bounds(make: Callable[[], object], told: str) -> None:
    with pytest.raises(FigureError) as caught:
        make()
    assert str(caught.value).startswith(told)
    assert isinstance(caught.value, ValueError)


def test_all_figures_that_are_out_of_bounds_are_told_together() -> None:
    with pytest.raises(FigureError) as caught:
        Weights(match=-1.0, cover=inf)
    assert [names for names, _ in caught.value.flaws] == [("match",), ("cover",)]


def test_every_figure_of_the_rules_has_bounds_that_hold_its_default() -> None:
    for part in fields(Recipe):
        rules = getattr(Recipe(), part.name)
        for item in fields(rules) if is_dataclass(rules) else ():
            value = getattr(rules, item.name)
            if isinstance(value, int | float | Fraction) and not isinstance(value, bool):
                assert is_figure(item.type), item.name
    shown = {key: bounds for key, _, bounds, _ in reference()}
    assert shown["duck.separation_lu"] == "0 to 40"
    assert shown["cover.punch_in"] == "above 1, up to 100"
    assert shown["mend.length"] == "rippled or kept"
    assert shown["cover.narration"] == "true or false"


def test_a_recipe_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    with pytest.raises(RecipeError, match=r"gone\.toml: the recipe cannot be read .*`mltassist recipe`"):
        load_recipe(tmp_path / "gone.toml")
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'[words]\nmusic = ["\xe9"]\n')
    with pytest.raises(RecipeError, match="not UTF-8 text"):
        load_recipe(latin)
    latin.write_text('[words]\nmusic = ["é"]\n', encoding="utf-8")
    assert load_recipe(latin).words == load_recipe(str(latin)).words == {"music": ("é",)}


def test_the_reference_lists_every_key_with_its_reason() -> None:
    expected = []
    for part in fields(Recipe):
        inner = getattr(Recipe(), part.name)
        expected += (
            [f"{part.name}.{item.name}" for item in fields(inner)] if is_dataclass(inner) else [part.name]
        )
    rows = reference()
    assert [key for key, *_ in rows] == expected
    assert all(why for *_, why in rows)
    shown = {key: default for key, default, *_ in rows}
    assert shown["cover.shot_ideal_s"] == "3.5"
    assert shown["cover.narration"] == "true"
    assert shown["cover.edge_frames"] == "5"


def test_every_default_of_the_reference_can_be_written_into_a_recipe() -> None:
    lines = []
    for key, default, *_ in reference():
        if default:
            plain = default in ("true", "false", "[]") or default.lstrip("-")[:1].isdigit()
            value = default if plain else f'"{default}"'
            lines.append(f"{key} = {value}")
    assert parse_recipe("\n".join(lines)) == Recipe()


def test_a_text_of_nothing_but_mistakes_is_refused_in_no_time():
    text = "[cover]\n" + "\n".join(f"k{number} = 1" for number in range(3000)) + f"\n{'x' * 5000} = 1\n"
    began = time.process_time()
    with pytest.raises(
        RecipeError, match=r"line 2: cover: unknown key k0; .*; and 2951 mistakes more$"
    ) as told:
        parse_recipe(text)
    assert time.process_time() - began < 3
    assert len(str(told.value)) < 5000
