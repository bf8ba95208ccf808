"""A film's loudness, read in parts, against the measures of its whole sound; and the gain to a target."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import inf, nan
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile

from mltassist.frames import Rate, Span
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.meter import Loudness, Meter
from mltassist.media.sound.mix import mix_blocks
from mltassist.media.sound.peaks import REACH, highest_between
from mltassist.music.delivery import mix_meter, normalising_gain_db
from mltassist.recipe.rules import DeliveryRules
from mltassist.timeline.model import (
    Clip,
    Dissolve,
    Gap,
    LevelCurve,
    LevelKey,
    Source,
    SourceKind,
    Timeline,
    Track,
    TrackKind,
)
from tests.media.sound.mixes import film_mix, oversampled_dbtp


def source(folder: Path, name: str, seed: int, channels: int) -> Source:
    rng = np.random.default_rng(seed)
    n = np.arange(20 * MIX_HZ)
    swell = 10 ** (rng.uniform(-40, -8, 22) / 20)
    gain = np.interp(n / MIX_HZ, np.arange(swell.size), swell)
    path = folder / f"{name}.wav"
    soundfile.write(path, rng.uniform(-1, 1, (n.size, channels)) * gain[:, None], MIX_HZ, subtype="PCM_16")
    return Source(str(path), SourceKind.FILE, path, 500)


@pytest.fixture
def film(tmp_path: Path) -> Timeline:
    """Two tracks of sound, one with a dissolve, and one that is switched off."""
    one, two = source(tmp_path, "one", 1, 2), source(tmp_path, "two", 2, 1)
    crossing = Dissolve(200, 30, Clip(200, 30, one, 210), Clip(200, 30, two, 20))
    speech = (Clip(0, 200, one, 10), crossing, Clip(230, 270, two, 50))
    tracks = (
        Track(1, TrackKind.SOUND, "A1", speech),
        Track(2, TrackKind.SOUND, "A2", (Gap(0, 83), Clip(83, 301, two, 117))),
        Track(3, TrackKind.SOUND, "off", (Clip(0, 500, one, 0),), muted=True),
    )
    return Timeline(tmp_path / "film.mlt", "mlt", Rate(25), 64, 36, tracks)


@pytest.mark.parametrize("block_s", [Fraction(1, 25), Fraction(7, 10), 3, 60])
def test_the_parts_of_a_film_are_its_whole_mix(film: Timeline, block_s: Fraction | int) -> None:
    (whole,) = mix_blocks(film, 60)
    assert whole.shape == (2, 20 * MIX_HZ)
    assert np.allclose(np.concatenate(list(mix_blocks(film, block_s)), axis=1), whole, atol=1e-6)


@pytest.mark.parametrize("block_s", [Fraction(1, 25), Fraction(7, 10), 3, 60])
def test_the_figures_are_those_of_the_whole_sound(film: Timeline, block_s: Fraction | int) -> None:
    whole = film_mix(film)
    found = mix_meter(film, block_s=block_s).read()
    meter = Meter()
    meter.add(whole)
    assert found.range_lu == pytest.approx(meter.read().range_lu, abs=0.01)
    assert found.peak_dbtp == pytest.approx(oversampled_dbtp(whole), abs=0.01)
    assert found.integrated_lufs == pytest.approx(
        pyloudnorm.Meter(MIX_HZ).integrated_loudness(whole.T.astype(np.float64)), abs=0.1
    )


def test_tracks_that_are_switched_off_are_not_heard_and_halves_of_a_dissolve_are_faded(
    film: Timeline,
) -> None:
    silent = replace(film, tracks=tuple(replace(track, muted=True) for track in film.tracks))
    assert not film_mix(silent).any()
    outgoing, incoming = film.tracks[0].items[1].outgoing, film.tracks[0].items[1].incoming
    alone = [
        film_mix(replace(film, tracks=(replace(film.tracks[0], items=(half,)),)), Span(200, 230))
        for half in (outgoing, incoming)
    ]
    crossing = film_mix(replace(film, tracks=film.tracks[:1]), Span(200, 230))
    first, last = slice(0, 1920), slice(29 * 1920, 30 * 1920)
    assert np.array_equal(crossing[:, first], alone[0][:, first]), "the first frame is the outgoing clip's"
    part = 28 / 30 + np.arange(1, 1921) / 1920 / 30
    expected = alone[0][:, last] * (1 - part) + alone[1][:, last] * part
    assert np.allclose(crossing[:, last], expected, atol=1e-6)


def test_the_highest_point_between_samples_is_found_wherever_it_lies() -> None:
    rng = np.random.default_rng(5)
    for size in (32, 33, 63, 64, 65, 4000, 50001):
        sound = rng.uniform(-1, 1, (2, size)).astype(np.float32)
        expected = oversampled_dbtp(sound)
        among = np.pad(sound, ((0, 0), (REACH + 16, REACH + 16)))
        assert 20 * np.log10(highest_between(among)) == pytest.approx(expected, abs=1e-3)
    assert highest_between(np.zeros((2, 0), np.float32)) == 0
    assert highest_between(np.full((2, 100), 0.1, np.float32), 0.5) == 0.5


def test_a_peak_where_two_parts_meet_is_found(tmp_path: Path) -> None:
    wave = np.zeros((100 * 1920, 2), np.float32)
    n = np.arange(-200, 200)
    # Samples of a quarter of the sampling rate at 45 degrees: the wave is 3 dB higher than they are.
    wave[25 * 1920 - 200 : 25 * 1920 + 200] = (0.5 * np.sin(np.pi * n / 2 + np.pi / 4) * np.hanning(400))[
        :, None
    ]
    path = tmp_path / "peak.wav"
    soundfile.write(path, wave, MIX_HZ, subtype="FLOAT")
    clip = Clip(0, 100, Source(str(path), SourceKind.FILE, path, 100), 0)
    film = Timeline(path, "mlt", Rate(25), 64, 36, (Track(1, TrackKind.SOUND, "A", (clip,)),))
    assert mix_meter(film, block_s=1).read().peak_dbtp == pytest.approx(oversampled_dbtp(wave.T), abs=1e-3)
    assert mix_meter(film, block_s=1).read().peak_dbtp == pytest.approx(-6.02, abs=0.1)


def test_a_file_that_is_gone_is_told(film: Timeline) -> None:
    film.tracks[1].items[1].source.path.unlink()
    told: list[Path] = []
    mix_meter(film, block_s=1, on_missing=lambda path, why: told.append(path)).read()
    assert {path.name for path in told} == {"two.wav"}


QUIET = Loudness(-30.0, 5.0, -20.0)


def test_the_gain_meets_the_target_unless_a_peak_is_in_the_way() -> None:
    assert normalising_gain_db(QUIET, DeliveryRules()) == pytest.approx(7.0)
    assert normalising_gain_db(replace(QUIET, peak_dbtp=-4.0), DeliveryRules()) == pytest.approx(3.0)
    assert normalising_gain_db(replace(QUIET, peak_dbtp=2.0), DeliveryRules()) == pytest.approx(-3.0)
    assert normalising_gain_db(QUIET, DeliveryRules(-16.0, -1.0)) == pytest.approx(14.0)
    assert normalising_gain_db(replace(QUIET, integrated_lufs=-inf, peak_dbtp=-inf), DeliveryRules()) == 0.0
    with pytest.raises(ValueError, match="peak"):
        normalising_gain_db(replace(QUIET, peak_dbtp=nan), DeliveryRules())


@pytest.mark.parametrize("gain_db", [-45.0, -30.0, -6.25, 12.0])
def test_a_gain_need_not_be_measured_whatever_it_lifts_over_the_gates(film: Timeline, gain_db: float) -> None:
    curve = LevelCurve((LevelKey(0, gain_db),))
    heard = film_mix(replace(film, levels=(curve,)))
    foretold = mix_meter(film).read(gain_db)
    measured = mix_meter(replace(film, levels=(curve,))).read()
    for name in ("integrated_lufs", "range_lu", "peak_dbtp"):
        assert getattr(foretold, name) == pytest.approx(getattr(measured, name), abs=0.001)
    outside = pyloudnorm.Meter(MIX_HZ).integrated_loudness(heard.T.astype(np.float64))
    assert foretold.integrated_lufs == pytest.approx(outside, abs=0.1)
    if gain_db == -45.0:  # the gate takes more of so quiet a film: adding the gain would not do
        assert abs(foretold.integrated_lufs - mix_meter(film).read().integrated_lufs - gain_db) > 0.05


def test_after_the_gain_the_film_has_the_loudness_wanted(film: Timeline) -> None:
    figures = mix_meter(film).read()
    gain = 10 ** (normalising_gain_db(figures, DeliveryRules(-30.0)) / 20)
    outside = pyloudnorm.Meter(MIX_HZ).integrated_loudness(film_mix(film).T.astype(np.float64) * gain)
    assert outside == pytest.approx(-30, abs=0.1)
