"""Edited documents of every layout play as they are read, and elsewhere as before (reference: melt)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from mltassist.frames import Rate
from mltassist.timeline.edits import LayNatural, LayShot, OpenPause, SetLevelCurve
from mltassist.timeline.model import TrackKind
from tests import referee
from tests.hosts.films import BOAT, COLOURS, FILM, LEVELS, MUSIC, TALK, WAVES
from tests.hosts.generations import GENERATIONS, depth
from tests.hosts.written import WHY, Written, saved, write_generation

pytestmark = pytest.mark.usefixtures("requires_melt")
AT, LONG = 40, 30
"""Where the pause is opened, and how long it is."""


@pytest.fixture(params=GENERATIONS)
def written(request: pytest.FixtureRequest, media: Callable[[Rate], Path]) -> Written:
    return write_generation(request.param, media(FILM.rate), plays=True)


def colour(picture: referee.Picture) -> np.ndarray:
    return picture[45, 80].astype(int)


def test_the_edited_film_is_played_as_it_is_read_and_else_as_before(written: Written):
    number = written.index("Music", TrackKind.SOUND)
    edits = (
        SetLevelCurve(20, number, ((90, 0.0), (100, -18.0), (130, -18.0), (140, 0.0)), WHY),
        LayShot(75, 20, written.key(BOAT.file), 12, WHY),
        LayShot(75, 20, written.key(WAVES.file), 20, WHY, "alternatives"),  # not seen: switched off
        OpenPause(AT, LONG, WHY, run_on=(number,)),
        LayNatural(AT, LONG, written.key(WAVES.file), 30, WHY, lead=4, trail=4, gain_db=-6.0),
    )
    project = written.edited(*edits)
    timeline, path = project.timeline, project.path
    level = depth(written.generation)
    found = sorted(
        (row.track[level], row.start, row.first, row.last, row.resource)
        for row in referee.entries(path)
        if row.track[level] > 0
    )
    assert found == sorted(
        (track.index, clip.start, clip.source_in, clip.source_in + clip.length - 1, clip.source.key)
        for track in timeline.tracks
        for clip in track.clips()
    )
    shown = {39: TALK.file, AT: WAVES.file, 69: WAVES.file, 70: TALK.file, 105: BOAT.file, 185: BOAT.file}
    for picture, file in zip(referee.frames(path, list(shown)), shown.values(), strict=True):
        assert np.abs(colour(picture) - COLOURS[file]).max() < 12
    before, after = (referee.sound(p, first=0, last=229) for p in (written.path, path))
    edge, gap = (FILM.rate.samples(frame, referee.RATE_HZ) for frame in (AT - 4, LONG))
    assert np.array_equal(before[:, :edge], after[:, :edge])
    # After the natural sound's end everything is as it was, a pause later, up to the ducked stretch.
    first, last = (FILM.rate.samples(frame, referee.RATE_HZ) for frame in (AT + 4, 89))
    np.testing.assert_allclose(after[:, first + gap : last + gap], before[:, first:last], atol=1e-6)
    # Up to 0.95 tracks are not added but "combined", which drags behind changes: only nearly the sum.
    near = 0.06 if written.generation in ("kdenlive 0.91", "kdenlive 0.95") else 1e-3
    # In the pause: the music, which plays on, and the natural sound.
    middle = FILM.rate.samples(AT + LONG // 2, referee.RATE_HZ)
    assert after[0, middle] == pytest.approx(
        LEVELS[MUSIC.file] + LEVELS[WAVES.file] * 10 ** (-6 / 20), rel=near
    )
    ducked = FILM.rate.samples(110 + LONG, referee.RATE_HZ)
    assert after[0, ducked] == pytest.approx(
        LEVELS[TALK.file] + LEVELS[MUSIC.file] * 10 ** (-18 / 20), rel=near
    )


def test_a_project_that_is_saved_without_an_edit_plays_as_before(written: Written):
    project = saved(written.project())
    assert referee.entries(project.path) == referee.entries(written.path)
