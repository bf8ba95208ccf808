"""The whole film's loudness: measured without rendering, and brought to its target."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pyloudnorm
import pytest

import mltassist
from mltassist.checking import check
from mltassist.errors import NoSuchPlace
from mltassist.frames import Span
from mltassist.music import delivery
from mltassist.music.delivery import mix_meter
from mltassist.recipe.rules import DeliveryRules, DuckRules, Recipe
from mltassist.timeline.edits import OpenPause, SetFilmGain, SetLevelCurve
from tests import referee
from tests.cli.films import LAYOUTS, short, write
from tests.hosts.generations import GENERATIONS
from tests.hosts.written import write_generation
from tests.media.sound.mixes import film_mix


def opened(tmp_path, layout="host.kdenlive"):
    return mltassist.open(write(short(), tmp_path, layout))


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_normalised_film_is_as_loud_as_asked_in_the_engine(tmp_path, layout):
    """The referees are melt and pyloudnorm."""
    project = opened(tmp_path, layout)
    plan = mltassist.duck(project, normalise=True)
    made = plan.apply(project)
    assert check(made, original=project) == ()
    output = made.save(tmp_path / f"loud-{layout}")
    sound = referee.sound(output)
    meter = pyloudnorm.Meter(48000)
    assert meter.integrated_loudness(sound.T) == pytest.approx(-23, abs=0.3)
    assert 20 * np.log10(np.abs(sound).max()) < -1
    mix = plan.figures["mix"]
    assert mix["after"]["integrated_lufs"] == pytest.approx(-23, abs=0.1)
    assert mix["gain_to_target_db"] == pytest.approx(0, abs=0.1)
    assert mix["before"]["integrated_lufs"] > mix["after"]["integrated_lufs"]


def test_a_peak_over_the_ceiling_holds_the_gain_back(tmp_path, monkeypatch):
    project = opened(tmp_path)
    measured, measure = [], delivery.read_in_pieces
    monkeypatch.setattr(
        delivery, "read_in_pieces", lambda *a, **more: measured.append(a) or measure(*a, **more)
    )
    loud = Recipe(delivery=DeliveryRules(target_lufs=-3.0))
    plan = mltassist.duck(project, recipe=loud, normalise=True)
    assert len(measured) == 2  # before and after; what the gain then makes of it is computed
    made = mix_meter(plan.apply(project).timeline).read()
    after = plan.figures["mix"]["after"]
    assert after["integrated_lufs"] == pytest.approx(made.integrated_lufs, abs=0.01)
    assert after["range_lu"] == pytest.approx(made.range_lu, abs=0.01)
    assert after["peak_dbtp"] == pytest.approx(made.peak_dbtp, abs=0.01)
    assert made.peak_dbtp == pytest.approx(-1.0, abs=0.1)
    assert made.integrated_lufs < -4
    assert any("its true peak allows no more" in note.text and note.needs_editor for note in plan.notes)


def test_the_next_run_replaces_the_gain_and_one_without_it_takes_it_away(tmp_path):
    project = opened(tmp_path)
    once = mltassist.duck(project, normalise=True).apply(project)
    assert len(once.timeline.levels) == 1
    again = mltassist.duck(once, normalise=True).apply(once)
    assert again.timeline.levels == once.timeline.levels
    assert mltassist.duck(once).apply(once).timeline.levels == ()


@pytest.mark.parametrize("name", GENERATIONS)
def test_every_generation_holds_the_gain_of_the_film(tmp_path, name):
    written = write_generation(name, tmp_path)
    before = written.project()
    project = written.edited(SetFilmGain(-6.0, "delivery"))
    assert check(project, original=before) == ()
    (curve,) = project.timeline.levels
    assert [key.gain_db for key in curve.keys] == [-6.0]
    loud = written.edited(SetFilmGain(27.0, "delivery")).timeline
    assert [key.gain_db for curve in loud.levels for key in curve.keys] == [27.0]
    twice = written.edited(SetFilmGain(-6.0, "x"), SetFilmGain(-2.5, "y")).timeline
    assert [key.gain_db for curve in twice.levels for key in curve.keys] == [-2.5]


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("gain_db", [-6.0, 27.0])
def test_the_gain_of_the_film_is_heard_as_it_was_predicted(tmp_path, gain_db):
    project = opened(tmp_path)
    made = project.with_edits([SetFilmGain(gain_db, "delivery")])
    output = made.save(tmp_path / "quiet.kdenlive")
    heard = referee.sound(output, first=600, last=799)
    predicted = film_mix(mltassist.open(output).timeline, Span(600, 800))
    level = 10 * np.log10(np.mean(heard**2) / np.mean(predicted[:, : heard.shape[1]] ** 2))
    assert level == pytest.approx(0, abs=0.1)
    full = film_mix(project.timeline, Span(600, 800))
    assert np.allclose(predicted, full * 10 ** (gain_db / 20), atol=1e-5)


def test_limits_and_ramps_given_at_hand_overrule_the_recipe(tmp_path):
    project = opened(tmp_path)
    plan = mltassist.duck(project, depth_limit=6.0, ramp_in=Fraction(2), ramp_out=Fraction(3))
    curves = [edit for edit in plan.edits if isinstance(edit, SetLevelCurve)]
    lowest = min(gain for curve in curves for _, gain in curve.keys)
    assert lowest == pytest.approx(-6.0)
    assert any("too loud for the depth limit" in note.text for note in plan.notes)
    held = mltassist.duck(project, recipe=Recipe(duck=DuckRules(bridge_s=Fraction(1, 10))), hold=Fraction(30))
    rows = held.figures["passages"]
    assert all(one["at"] + one["length"] == other["at"] for one, other in pairwise(rows))  # no gap is left


def test_pauses_are_suggested_where_speech_rests_and_well_apart(tmp_path):
    project = mltassist.open(write(short(2600), tmp_path))
    plan = mltassist.pause(project, length=Fraction(2), suggest=2)
    places = [edit.at for edit in plan.edits if isinstance(edit, OpenPause)]
    assert len(places) == 2
    first, last = sorted(places)
    assert last - first >= 20 * 25
    assert len(plan.figures["pauses"]) == 2
    edges = {clip.start for track in project.timeline.tracks for clip in track.clips()}
    assert set(places) & edges  # at an edit rather than somewhere in the silence
    both = mltassist.pause(project, at=[f"f{first}"], length=Fraction(2), suggest=1)
    others = [edit.at for edit in both.edits if isinstance(edit, OpenPause)]
    assert first in others
    assert len(others) == 2


def test_a_film_without_rest_gets_no_suggestion(tmp_path):
    with pytest.raises(NoSuchPlace, match="speech rests nowhere long enough"):
        mltassist.pause(opened(tmp_path), length=Fraction(2), suggest=1)
    with pytest.raises(NoSuchPlace, match="no place for a pause was given"):
        mltassist.pause(opened(tmp_path), length=Fraction(2))
