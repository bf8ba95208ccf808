"""What a cover lays beside its shots: alternatives that are not seen, and their own sound far under."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

import mltassist
from mltassist.checking import check
from mltassist.cutaways.beside import sounds_under
from mltassist.findings import speech_clips
from mltassist.recipe.cover import CoverRules
from mltassist.recipe.rules import Recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.edits import LayNatural, LayShot, LayUnder
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


@pytest.mark.usefixtures("requires_melt")
def test_the_sound_of_shots_lies_far_under_the_speech(tmp_path: Path) -> None:
    """Loudness by pyloudnorm, on what the engine plays."""
    path, plan = covered(tmp_path, "host.kdenlive", KEPT, "kept")
    under = [edit for edit in plan.edits if isinstance(edit, LayUnder)]
    assert len(under) == plan.figures["sounds_kept"] >= 3
    film = mltassist.open(path).timeline
    made = find(film, begin(film, KEPT))
    meter = pyloudnorm.Meter(48000)
    talking = {track.index for track, _ in speech_clips(made)}
    spoken = meter.integrated_loudness(referee.sound(path, only_tracks=talking).T.astype(np.float64))
    track = made.timeline.of_role("under")
    assert track is not None
    heard = referee.sound(path, only_tracks={track.index})
    for edit in under:
        first, last = (made.timeline.rate.samples(f, 48000) for f in (edit.at, edit.at + edit.length))
        level = meter.integrated_loudness(heard[:, first:last].T.astype(np.float64))
        assert level == pytest.approx(spoken - 20, abs=1.0)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_plan_without_its_sounds_ducks_what_the_editor_laid_and_nothing_else(
    tmp_path: Path, layout: str
) -> None:
    project = mltassist.open(write(short(), tmp_path, layout))
    plan = mltassist.rough(project, recipe=KEPT, pauses=[("f532", Fraction(2))], no_look=True)
    assert any(isinstance(edit, LayUnder) for edit in plan.edits)
    bare = plan.keep(lambda edit: not isinstance(edit, (LayUnder, LayNatural)))
    film = bare.apply(project).timeline
    made = find(film, begin(film, KEPT))
    ducked = [
        made.elements.of_clip(track, clip)
        for track in made.timeline.tracks
        for clip in track.clips()
        if any(curve.ours for curve in clip.levels)
    ]
    assert ducked
    assert set(ducked) == {Element.MUSIC, Element.NATURAL}


def test_words_are_not_laid_under_words(tmp_path: Path) -> None:
    film = mltassist.open(write(short(), tmp_path)).timeline
    findings = find(film, begin(film, KEPT))
    timeline = findings.timeline
    talk = next(clip for _, clip in speech_clips(findings) if clip.source.path and clip.length > 75)
    quiet = next(c for c in timeline.bin if findings.elements.of_source(c.source.key) is Element.CUTAWAY)
    shots = [
        LayShot(100, 75, talk.source.key, talk.source_in, "a face"),
        LayShot(300, 75, quiet.source.key, 20, "a thing"),
    ]
    assert [edit.at for edit in sounds_under(findings, shots)] == [300]
    assert [(note.text, note.at) for note in findings.notes] == [
        ("the sound of this shot is not kept: someone speaks in it", 100)
    ]
