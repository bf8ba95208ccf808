"""Another program reads our outputs and finds the same clips (otio-kdenlive-adapter, from layout 0.99 on).

What it cannot tell us: levels, groups and bins, which it does not read; which sequence is meant where a
document has several; layouts before 0.99, which it refuses. It gives the host's preview as a track.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from mltassist.frames import Rate
from mltassist.timeline.edits import AddMarker, LayNatural, LayShot, OpenPause, SetLevelCurve
from mltassist.timeline.model import Timeline, TrackKind
from tests.hosts.films import BOAT, FILM, WAVES
from tests.hosts.written import RATES, WHY, write_generation
from tests.needs import missing

READABLE = ("kdenlive 0.99", "kdenlive 1", "kdenlive 1.01", "kdenlive 1.04", "kdenlive 1.1")
Found = list[tuple[str, list[tuple[str, int, int, int]]]]


@pytest.fixture(scope="module")
def read() -> Callable[[Path], Any]:
    """Reads a document as the other program does. Its makers have given it up, which it says when used."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            import opentimelineio as library
            import otio_kdenlive_adapter  # noqa: F401
        except ImportError as problem:
            missing(str(problem))

    def of(path: Path) -> Any:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return library.adapters.from_name("kdenlive").read_from_file(str(path))

    return of


def theirs(timeline: Any) -> Found:
    """Kind and clips (name, start, length, first source frame) of every track that has any."""
    found = []
    for track in timeline.tracks:
        clips = [
            (
                clip.name,
                int(clip.range_in_parent().start_time.value),
                int(clip.source_range.duration.value),
                int(clip.source_range.start_time.value),
            )
            for clip in track.find_clips()
        ]
        if clips:
            found.append((track.kind, clips))
    return found


def ours(timeline: Timeline) -> Found:
    """The same of our own reading."""
    return [
        (
            "Audio" if track.kind is TrackKind.SOUND else "Video",
            [(clip.name, clip.start, clip.length, clip.source_in) for clip in track.clips()],
        )
        for track in timeline.tracks
        if any(track.clips())
    ]


@pytest.mark.parametrize("rate", RATES, ids=["25", "29.97"])
@pytest.mark.parametrize("name", READABLE)
def test_the_other_program_reads_the_layouts_as_we_do(
    name: str, rate: Rate, tmp_path: Path, read: Callable[[Path], Any]
):
    project = write_generation(name, tmp_path, replace(FILM, rate=rate)).project()
    assert theirs(read(project.path)) == ours(project.timeline)


@pytest.mark.parametrize("rate", RATES, ids=["25", "29.97"])
@pytest.mark.parametrize("name", READABLE)
def test_the_other_program_finds_what_we_have_laid(
    name: str, rate: Rate, tmp_path: Path, read: Callable[[Path], Any]
):
    written = write_generation(name, tmp_path, replace(FILM, rate=rate))
    music = written.index("Music", TrackKind.SOUND)
    project = written.edited(
        SetLevelCurve(20, music, ((20, 0.0), (50, -18.0)), WHY),
        LayShot(110, 20, written.key(BOAT.file), 12, WHY),
        OpenPause(40, 30, WHY, run_on=(music,)),
        LayNatural(40, 30, written.key(WAVES.file), 30, WHY, lead=6, trail=4, fade_in=2, fade_out=4),
        AddMarker(90, "look", WHY),
    )
    found = theirs(read(project.path))
    assert found == ours(project.timeline)
    assert ("Video", [("Boat – WS", 140, 20, 12)]) in found
    assert ("Audio", [("Waves", 34, 40, 24)]) in found


def test_the_other_program_refuses_what_is_older(tmp_path: Path, read: Callable[[Path], Any]):
    """Should it ever learn to, the test above is to ask it."""
    path = write_generation("kdenlive 0.96", tmp_path).path
    try:
        found = theirs(read(path))
    except Exception:  # whatever it raises, it has not read the film
        return
    assert found != ours(write_generation("kdenlive 0.96", tmp_path).project().timeline)
