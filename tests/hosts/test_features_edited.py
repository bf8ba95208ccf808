"""Edits in projects that hold more than cuts: every frame plays what it played, or does so later."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mltassist.checking import check
from mltassist.errors import TrackLocked
from mltassist.frames import Rate, Span
from mltassist.media.sound.mix import curve_gain
from mltassist.project import open_project
from mltassist.timeline.edits import ClearOurs, LayNatural, LayShot, OpenPause
from mltassist.timeline.model import Clip, Dissolve, Timeline, Track, TrackKind
from tests import referee
from tests.hosts.films import BOAT, FILM, WAVES
from tests.hosts.generations import FEATURES
from tests.hosts.written import RATES, WHY, saved, write_feature

Shown = list[tuple[object, ...]]


def shown(track: Track, frame: int) -> Shown:
    """What a track plays at a frame: of every clip its source, its source frame and the state of its keys."""
    for item in track.items:
        if frame in item.span:
            clips = (item.outgoing, item.incoming) if isinstance(item, Dissolve) else (item,)
            return [
                (clip.source.key, clip.source_frame(frame), clip.plays_picture, clip.plays_sound)
                for clip in clips
                if isinstance(clip, Clip)
            ]
    return []


def gain(track: Track, frame: int, rate: Rate) -> float:
    """The factor at the end of a frame, of the curves of its clip and of the track."""
    total = 1.0
    for clip in track.clips():
        if frame in clip.span:
            for curve in clip.levels:
                total *= float(curve_gain(curve, Span(frame, frame + 1), rate)[-1])
            break
    for curve in track.levels:
        total *= float(curve_gain(curve, Span(frame, frame + 1), rate)[-1])
    return total


def own(timeline: Timeline) -> list[Track]:
    return [track for track in timeline.tracks if not track.ours]


@pytest.mark.parametrize("at", [40, 75, 85, 100, 145, 155])
@pytest.mark.parametrize("name", FEATURES)
def test_a_pause_moves_every_frame_or_leaves_it(name: str, at: int, tmp_path: Path):
    by, rate = 33, RATES[at % 2]
    path = write_feature(name, tmp_path, rate)
    original = open_project(path)
    if any(track.locked for track in original.timeline.tracks):
        with pytest.raises(TrackLocked):
            original.with_edits([OpenPause(at, by, WHY)])
        return
    project = saved(original.with_edits([OpenPause(at, by, WHY)]))
    referee.check_names(project.document.root)
    assert check(project, original=original) == ()
    before, after = original.timeline, project.timeline
    assert after.length == before.length + by
    for old, new in zip(before.tracks, after.tracks, strict=True):
        assert (old.name, old.kind, old.muted, old.hidden) == (new.name, new.kind, new.muted, new.hidden)
        for frame in range(FILM.length):
            later = frame + by if frame >= at else frame
            assert shown(new, later) == shown(old, frame)
            assert gain(new, later, rate) == pytest.approx(gain(old, frame, rate), rel=1e-3, abs=1e-5)
        assert not any(shown(new, frame) for frame in range(at, at + by))
    assert [(g.at, g.text, g.category) for g in after.markers] == [
        (g.at + by if g.at >= at else g.at, g.text, g.category) for g in before.markers
    ]
    assert np.all(np.diff([marker.at for marker in after.markers]) >= 0)


@pytest.mark.parametrize("name", FEATURES)
def test_what_is_laid_and_taken_away_leaves_the_film_as_it_was(name: str, tmp_path: Path):
    path = write_feature(name, tmp_path)
    original = open_project(path)
    key = str(tmp_path / BOAT.file)
    waves = str(tmp_path / WAVES.file)
    laid = saved(
        original.with_edits(
            [LayShot(30, 20, key, 12, WHY), LayNatural(100, 20, waves, 30, WHY, lead=5, trail=5)]
        )
    )
    referee.check_names(laid.document.root)
    assert check(laid, original=original) == ()
    timeline = laid.timeline
    roles = {
        track.ours: [(c.start, c.length, c.source_in) for c in track.clips()] for track in timeline.tracks
    }
    assert roles["cover"] == [(30, 20, 12)]
    assert roles["natural"] == [(95, 30, 25)]
    assert roles["natural picture"] == [(100, 20, 30)]
    cover = timeline.of_role("cover")
    assert cover is not None
    assert cover.index > max(track.index for track in own(timeline) if track.kind is TrackKind.PICTURE)
    cleared = saved(laid.with_edits([ClearOurs("cover", WHY), ClearOurs("natural", WHY)])).timeline
    for old, new in zip(original.timeline.tracks, own(cleared), strict=True):
        assert (old.name, old.items, old.levels) == (new.name, new.items, new.levels)
    assert len(cleared.linked) == len(original.timeline.linked)
