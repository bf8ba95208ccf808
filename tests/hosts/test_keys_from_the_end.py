"""Keys of a level whose time is negative count from the end of something: of what, melt 7.12 was asked."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from mltassist.frames import Span
from mltassist.media.sound.mix import curve_gain
from mltassist.project import Project, open_project
from mltassist.timeline.edits import OpenPause
from tests import referee
from tests.hosts.films import FILM

LEVEL = 0.25
PROFILE = (
    '<profile description="small" width="160" height="90" frame_rate_num="25" frame_rate_den="1"'
    ' sample_aspect_num="1" sample_aspect_den="1" progressive="1"/>'
)
HOMES = ("entry", "producer", "playlist", "tractor")
FALL = "0=0;-1=-40"
FILTERS = (
    ("", FALL),
    ('in="100" out="299"', "0=0;-300=-20;-100=0;150=-5"),
    ('in="100"', FALL),
    ('out="279"', "-1=-12"),
    ('in="0" out="0"', "120=0;-380=-30;-40|=-10;-1=-6"),
)
"""Range of a filter, which says what its keys count from the end of, and its level."""


def write(folder: Path, level: str, home: str, span: str) -> Path:
    """A second's gap, 200 of 500 frames, and 100 of 300; the filter hangs on the first clip or on all."""
    for name, frames in (("long.wav", 500), ("short.wav", 300)):
        samples = np.full((frames * 1920, 2), LEVEL, np.float32)
        soundfile.write(folder / name, samples, referee.RATE_HZ, subtype="FLOAT")
    hung = {home: f'<filter {span}><property name="mlt_service">volume</property>'}
    hung[home] += f'<property name="level">{level}</property></filter>'
    on = {name: hung.get(name, "") for name in HOMES}
    path = folder / "film.mlt"
    path.write_text(
        f'<mlt LC_NUMERIC="C" version="7.12.0">{PROFILE}'
        '<producer id="a" in="0" out="499"><property name="resource">long.wav</property>'
        f'<property name="length">500</property>{on["producer"]}</producer>'
        '<producer id="b" in="0" out="299"><property name="resource">short.wav</property>'
        '<property name="length">300</property></producer>'
        f'<playlist id="l"><blank length="25"/><entry producer="a" in="100" out="299">{on["entry"]}</entry>'
        f'<entry producer="b" in="50" out="149"/>{on["playlist"]}</playlist>'
        f'<tractor id="t"><track producer="l"/>{on["tractor"]}</tractor></mlt>'
    )
    return path


def read_gain(project: Project) -> list[float]:
    """The gain of every frame at its end as the project is read, 0 where there is no clip."""
    timeline = project.timeline
    (track,) = timeline.tracks
    found = [0.0] * timeline.length
    for clip in track.clips():
        for frame in range(clip.start, clip.span.end):
            whole = Span(frame, frame + 1)
            found[frame] = 1.0
            for curve in (*clip.levels, *track.levels, *timeline.levels):
                found[frame] *= float(curve_gain(curve, whole, FILM.rate, clip_start=clip.start)[-1])
    return found


def played_gain(path: Path) -> list[float]:
    """The same as the engine plays it."""
    sound = referee.sound(path)[0]
    return [float(abs(sound[(frame + 1) * 1920 - 1])) / LEVEL for frame in range(sound.size // 1920)]


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("home", HOMES)
@pytest.mark.parametrize(("span", "level"), FILTERS)
def test_levels_are_read_as_the_engine_plays_them(level: str, home: str, span: str, tmp_path: Path):
    path = write(tmp_path, level, home, span)
    assert read_gain(open_project(path)) == pytest.approx(played_gain(path), rel=2e-3, abs=1e-5)


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize(
    ("home", "span", "run_on"),
    [
        ("entry", "", ()),
        ("entry", 'in="100" out="299"', (0,)),
        ("playlist", "", (0,)),
        ("tractor", "", ()),
        ("tractor", 'in="100" out="299"', ()),
    ],
)
def test_a_pause_leaves_what_is_heard_around_it(
    home: str, span: str, run_on: tuple[int, ...], tmp_path: Path
):
    at, by = 150, 30
    path = write(tmp_path, "0=0;-260=-3;-1=-40" if run_on else FALL, home, span)
    before = played_gain(path)
    edited = open_project(path).with_edits([OpenPause(at, by, "test", run_on)])
    target = edited.save(tmp_path / "edited.mlt")
    after = played_gain(target)
    assert len(after) == len(before) + by
    assert after[: at - 1] == pytest.approx(before[: at - 1], rel=2e-3, abs=1e-5)
    assert after[at + by + 1 :] == pytest.approx(before[at + 1 :], rel=2e-3, abs=1e-5)
    assert read_gain(open_project(target)) == pytest.approx(after, rel=2e-3, abs=1e-5)
