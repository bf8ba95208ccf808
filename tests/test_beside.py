"""What a cover lays beside its shots: alternatives that are not seen, and their own sound far under."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import mltassist
from mltassist.checking import check
from mltassist.facts import find, speech_clips
from mltassist.frames import Span
from mltassist.media.hearing import passage_loudness
from mltassist.project import Project
from mltassist.recipe import CoverRules, Recipe
from mltassist.timeline.edits import LayShot, LayUnder
from mltassist.timeline.elements import Element
from tests import referee
from tests.cli.films import LAYOUTS, short, write

STACKED = Recipe(cover=CoverRules(stack_alternatives=True))
KEPT = Recipe(cover=CoverRules(keep_sound=True))


def covered(folder: Path, layout: str, rules: Recipe, name: str) -> tuple[Path, mltassist.Plan]:
    project = mltassist.open(write(short(), folder, layout))
    plan = mltassist.cover(project, recipe=rules, no_look=True)
    made = plan.apply(project)
    assert check(made, original=project) == ()
    return made.save(folder / f"{name}-{layout}", force=True), plan


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_stack_of_alternatives_is_not_seen(tmp_path: Path, layout: str) -> None:
    bare, plan = covered(tmp_path, layout, Recipe(), "bare")
    stacked, other = covered(tmp_path, layout, STACKED, "stacked")
    laid = [edit for edit in other.edits if isinstance(edit, LayShot) and edit.track == "alternatives"]
    shots = [edit for edit in other.edits if isinstance(edit, LayShot) and edit.track == "cover"]
    assert shots == [edit for edit in plan.edits if isinstance(edit, LayShot)]
    assert len(laid) == other.figures["alternatives_laid"] >= 3
    assert {edit.at for edit in laid} <= {edit.at for edit in shots}
    frames = sorted({laid[0].at + 5, laid[-1].at + 5})
    pictures = [referee.frames(path, frames) for path in (bare, stacked)]
    for without, hidden in zip(*pictures, strict=True):
        assert np.array_equal(without, hidden)
    # The next run finds nothing new to do.
    again = mltassist.open(stacked)
    twice = mltassist.cover(again, recipe=STACKED, no_look=True).apply(again)
    assert twice.save(tmp_path / f"twice-{layout}").read_bytes() == stacked.read_bytes()


def under_loudness(made: Project, rules: Recipe) -> tuple[float, list[float]]:
    """Loudness of the film's speech and of what is kept under each shot, LUFS."""
    findings = find(made.timeline, rules)
    timeline = findings.timeline
    track = timeline.of_role("under")
    assert track is not None
    spoken = passage_loudness(speech_clips(findings), Span(0, timeline.length), timeline.rate)
    return spoken, [passage_loudness([(track, c)], c.span, timeline.rate) for c in track.clips()]


def with_sound(rules: Recipe) -> Recipe:
    """Natural sound, which has a picture too, taken for cutaways: the example's own have no sound."""
    return replace(rules, pins={"Natural sound*": Element.CUTAWAY, "*natural*": Element.CUTAWAY})


@pytest.mark.usefixtures("requires_melt")
def test_the_sound_of_shots_lies_far_under_the_speech(tmp_path: Path) -> None:
    rules = with_sound(KEPT)
    path, plan = covered(tmp_path, "host.kdenlive", rules, "kept")
    under = [edit for edit in plan.edits if isinstance(edit, LayUnder)]
    assert len(under) == plan.figures["sounds_kept"] > 0
    made = mltassist.open(path)
    spoken, levels = under_loudness(made, rules)
    assert all(abs(spoken - level - 20) < 1 for level in levels)
    track = made.timeline.of_role("under")
    assert track is not None
    edit = under[0]
    sound = referee.sound(path, first=edit.at, last=edit.at + edit.length - 1, only_tracks={track.index})
    assert np.abs(sound).max() > 1e-4
