"""A film judged as it is: what the pass makes keeps every rule, and each fault breaks its own."""

from __future__ import annotations

from dataclasses import replace

import pytest

import mltassist
from mltassist.conforming.judge import Conformity, conform
from mltassist.recipe.rules import parse_recipe
from tests.cli.films import EXAMPLE, short, with_file, write

WHOLE = 693
"""Frames of the example film at which no picture is cut off so short that it flashes."""
RULES = [
    *("structure", "jump cuts covered", "narration covered", "no black", "no flashes", "no frame twice"),
    *("somebody is seen", "pictures fill the frame", "separation", "integrated loudness", "loudness range"),
    *("true peak", "media"),
]


def broken(found: Conformity) -> set[str]:
    return {answer.rule for answer in found.answers if not answer.kept}


@pytest.fixture(scope="module")
def covered(tmp_path_factory):
    """The first half minute of the example film after the whole pass, at the loudness of delivery."""
    path = write(short(WHOLE), tmp_path_factory.mktemp("film"), "plain.mlt")
    project = mltassist.open(path)
    plan = mltassist.rough(project, normalise=True, no_look=True)
    return plan.apply(project).save(path.with_name("plain-rough.mlt"))


def test_a_raw_edit_breaks_rules_and_tells_where():
    found = conform(mltassist.open(EXAMPLE / "saltreed.kdenlive"), no_look=True)
    assert [answer.rule for answer in found.answers] == RULES
    assert broken(found) == {
        *("jump cuts covered", "narration covered", "no black", "separation", "integrated loudness")
    }
    jumps = next(answer for answer in found.answers if answer.rule == "jump cuts covered")
    assert len(jumps.breaches) == 14  # as `cover` counts them
    assert found.told(jumps.breaches[0]).startswith("00:00:21:08  ")
    assert found.as_dict()["conforms"] is False
    loudness = next(answer for answer in found.answers if answer.rule == "integrated loudness")
    assert loudness.breaches[0].what.endswith("--normalise brings it there")  # as the next test has it


def test_what_the_pass_makes_conforms(covered):
    found = conform(mltassist.open(covered), no_look=True)
    assert broken(found) == set()
    assert found.conforms


@pytest.mark.parametrize(
    ("recipe", "rule"),
    [
        ("[delivery]\ntarget_lufs = -16", "integrated loudness"),
        ("[delivery]\nceiling_dbtp = -20", "true peak"),
        ("[delivery]\nshort_term_max_lufs = -30", "short-term loudness"),
        ("[delivery]\nrange_max_lu = 0.1", "loudness range"),
        ("[duck]\nseparation_lu = 30", "separation"),
        ("[cover]\nunseen_max_s = 1", "somebody is seen"),
    ],
)
def test_each_figure_of_a_recipe_is_held_to(covered, recipe, rule):
    assert broken(conform(mltassist.open(covered), recipe=parse_recipe(recipe), no_look=True)) == {rule}


def test_what_is_not_there_is_told_by_its_file(covered):
    lost = with_file(covered, "narration/narrator.m4a", "narration/gone.m4a")
    found = conform(mltassist.open(lost), no_look=True)
    media = next(answer for answer in found.answers if answer.rule == "media")
    assert len(media.breaches) == 1
    assert "gone.m4a: the file is not there" in media.breaches[0].what
    kept = replace(media, breaches=())
    assert kept.kept
    assert not media.kept
