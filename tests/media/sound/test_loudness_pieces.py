"""Loudness put together from pieces that are remembered, against a meter that reads the whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mltassist.frames import Rate, Span
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.meter import Meter
from mltassist.media.sound.mix import stem
from mltassist.media.sound.pieces import read_in_pieces
from mltassist.timeline.model import Clip, LevelCurve, LevelKey, Source, SourceKind, Track, TrackKind

Clips = tuple[tuple[Track, Clip], ...]
LENGTH = 300


@pytest.fixture(scope="module")
def sources(tmp_path_factory) -> list[Source]:
    """A voice that comes and goes on one channel, and louder sound on two."""
    found = []
    for channels, least_db in ((1, -60), (2, -20)):
        rng = np.random.default_rng(channels)
        swell = 10 ** (rng.uniform(least_db, -6, 30) / 20)
        n = np.arange(12 * MIX_HZ)
        wave = (
            rng.uniform(-1, 1, (n.size, channels)) * np.interp(n / MIX_HZ, np.arange(30) / 2, swell)[:, None]
        )
        path = tmp_path_factory.mktemp("sound") / f"{channels}.wav"
        soundfile.write(path, wave, MIX_HZ, subtype="PCM_16")
        found.append(Source(str(path), SourceKind.FILE, path, 360))
    return found


def film(sources: list[Source], wanted: tuple[int, int, int, float, int]) -> Clips:
    """A bite cut once, with a pause there, over music that runs on and comes up or down."""
    (voice, music), (cut, left_out, pause, gain_db, length) = sources, wanted
    speech = (Clip(0, cut, voice, 5), Clip(cut + pause, 150 - left_out, voice, 5 + cut + left_out))
    curve = LevelCurve((LevelKey(20, 0.0), LevelKey(45, gain_db)), Span(10, length))
    under = Clip(10, length - 10, music, 0, levels=(curve,))
    tracks = (Track(1, TrackKind.SOUND, "A1", speech), Track(2, TrackKind.SOUND, "A2", (under,)))
    return tuple((track, clip) for track in tracks for clip in track.clips())


def read(clips: Clips, rate: Rate, memory: dict[object, Any], *, peaks: bool = True) -> tuple[Meter, int]:
    made = 0

    def known(key: object, make: Callable[..., Any]) -> Any:
        nonlocal made
        if key not in memory:
            memory[key] = make(pytest.fail)
            made += 1
        return memory[key]

    return read_in_pieces(clips, Span(0, LENGTH), rate, known, peaks=peaks), made


FILMS = st.tuples(
    st.integers(20, 120),
    st.integers(0, 20),
    st.integers(0, 60),
    st.sampled_from([-9.0, 0.0]),
    st.integers(150, 290),
)


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(FILMS, min_size=2, max_size=2), st.sampled_from([Rate(25), Rate(24), Rate(30000, 1001)]))
def test_what_is_remembered_of_another_film_changes_no_bit(sources, films, rate) -> None:
    memory: dict[object, Any] = {}
    for wanted in films:
        clips, whole = film(sources, wanted), Meter(peaks=True)
        found, fresh = read(clips, rate, memory)[0], read(clips, rate, {})[0]
        assert found.read() == fresh.read()
        assert np.array_equal(found.blocks, fresh.blocks)
        whole.add(stem(clips, Span(0, LENGTH), rate))
        near = (
            1e-6 if rate == Rate(25) else 0.02
        )  # elsewhere blocks end within a slot, and parts a sample off
        told, right = found.read(), whole.read()
        assert told.integrated_lufs == pytest.approx(right.integrated_lufs, abs=near)
        assert told.range_lu == pytest.approx(right.range_lu, abs=10 * near)
        assert told.peak_dbtp == pytest.approx(right.peak_dbtp, abs=1e-4 if rate == Rate(25) else 0.2)
        assert found.mean_db == pytest.approx(whole.mean_db, abs=1e-3 if rate == Rate(25) else 0.02)


def test_what_only_lies_elsewhere_is_not_measured_again(sources) -> None:
    voice, rate, memory = sources[0], Rate(25), dict[object, Any]()

    def bites(pause: int) -> Clips:
        clips = (Clip(0, 90, voice, 0), Clip(90 + pause, 150, voice, 120))
        return tuple((Track(1, TrackKind.SOUND, "A1", clips), clip) for clip in clips)

    assert read(bites(30), rate, memory, peaks=False)[1] > 4
    assert read(bites(57), rate, memory, peaks=False)[1] == 2  # both silences, which are of other lengths
    moved = tuple((track, replace(clip, source_in=clip.source_in + 1)) for track, clip in bites(57))
    assert read(moved, rate, memory, peaks=False)[1] > 2
