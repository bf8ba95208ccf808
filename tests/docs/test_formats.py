"""Every field that real output has is named on the page of formats."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest

import mltassist
from mltassist.choices.kinds import JoinChoice, LevelChoice, PauseChoice, ShotChoice
from mltassist.choices.reading import parse_choices
from mltassist.recipe.rules import parse_recipe
from mltassist.timeline.cuts import CutKind
from mltassist.timeline.edits import EDITS
from tests.docs import pages
from tests.passes import Pass

SHORT_OF_SHOTS = "[cover]\nhandle_s = 3.4\n"
"""Takes of 9 s with these ends taken off are too short for nearly every place."""


@pytest.fixture(scope="module")
def named() -> frozenset[str]:
    text = (pages.ROOT / "docs" / "formats.md").read_text("utf-8")
    return frozenset(re.findall(r"`([^`\n]+)`", text))


@pytest.fixture(scope="module")
def film() -> mltassist.Project:
    return mltassist.open(pages.FILM / "saltreed.mlt")


def names_in(data: Any) -> Iterator[str]:
    if isinstance(data, dict):
        for name, value in data.items():
            yield name
            if name != "recipe":  # named on its own page
                yield from names_in(value)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from names_in(value)


def test_fields_of_survey_and_listen_are_named(named: frozenset[str], film: mltassist.Project) -> None:
    assert set(names_in(mltassist.survey(film).as_dict())) <= named
    assert set(names_in(mltassist.listen(film).as_dict())) <= named


def test_fields_of_words_are_named(named: frozenset[str], film: mltassist.Project) -> None:
    data = mltassist.words(film, removed=True, no_words=True).as_dict()
    # Keys of these are elements and names of clips.
    tables = ("elements_s", "words_s", "face_s")
    balance = {name: None if name in tables else value for name, value in data["balance"].items()}
    assert set(names_in({**data, "balance": balance})) <= named


def test_fields_of_a_whole_pass_are_named(named: frozenset[str], passed: Callable[[str], Pass]) -> None:
    found = set(names_in(passed("saltreed.mlt").told))
    assert {"gain_db", "keys", "passages", "pauses", "jump_cuts"} <= found
    assert found <= named


def test_fields_of_a_plan_that_runs_out_of_shots_are_named(
    named: frozenset[str], film: mltassist.Project
) -> None:
    plan = mltassist.cover(film, recipe=parse_recipe(SHORT_OF_SHOTS), no_look=True)
    assert plan.figures["pick_ups"]
    assert plan.figures["rules_not_kept"]
    assert plan.notes
    assert set(names_in(plan.as_dict())) <= named


def test_fields_of_a_batch_are_named(named: frozenset[str], tmp_path: Path) -> None:
    with ThreadPoolExecutor(1) as pool:
        outcomes = mltassist.batch([tmp_path / "none.mlt"], tmp_path / "out", executor=pool)
    assert outcomes[0].problem
    assert set(names_in(outcomes[0].as_dict())) <= named


def test_every_kind_of_edit_is_named_with_all_its_fields(named: frozenset[str]) -> None:
    for kind in EDITS:
        assert {kind.__name__, *(field.name for field in fields(kind))} <= named


def test_the_choices_on_the_page_are_read(named: frozenset[str]) -> None:
    page = (pages.ROOT / "docs" / "formats.md").read_text("utf-8")
    (example,) = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    choices = parse_choices(example)
    assert (len(tuple(choices)), choices.means) == (4, {"sluice gate": ("paddle",)})
    for row in (ShotChoice, JoinChoice, PauseChoice, LevelChoice):
        assert {field.name for field in fields(row)} <= named
        assert set(get_args(get_type_hints(row)["choice"])) <= named


def test_every_kind_of_cut_is_named(named: frozenset[str]) -> None:
    assert {kind.value for kind in CutKind} <= named
