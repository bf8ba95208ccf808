"""Where things lie after an edit: the map of it agrees with what is read again from the written document."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from mltassist.checking import check
from mltassist.demofilm.film import Film, Placement
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.project import Project
from mltassist.timeline.edits import OpenPause
from mltassist.timeline.model import TrackKind
from tests.hosts.films import FILM, MUSIC
from tests.hosts.generations import GENERATIONS
from tests.hosts.written import WHY, Written, saved, write_generation

KDENLIVE = [name for name in GENERATIONS if name.startswith("kdenlive")]


def cut_music(*ends: int, spare: int) -> Film:
    """The film with its music cut at these frames with nothing removed; its source lasts `spare` longer."""
    first = MUSIC.length - (ends[-1] - 20) - spare
    starts = (20, *ends[:-1])
    pieces = tuple(Placement(MUSIC.file, a, first + a - 20, b - a) for a, b in zip(starts, ends, strict=True))
    lanes = (replace(lane, placements=pieces) if lane.name == "Music" else lane for lane in FILM.lanes)
    return replace(FILM, lanes=tuple(lanes))


def with_groups(written: Written, *groups: tuple[tuple[int, int], ...]) -> Project:
    """The document with clips, each as (track, start), in groups."""
    project = written.project()
    parts = Parts(project.document)
    for clips in groups:
        project.host.link(parts, main_timeline(project.host, parts), clips)
    return saved(project)


def grouped(project: Project) -> set[tuple[int, int]]:
    """All clips that groups name."""
    parts = Parts(project.document)
    return set(project.host.grouped(parts, main_timeline(project.host, parts)))


@pytest.mark.parametrize("at", [40, 90])
@pytest.mark.parametrize("name", KDENLIVE)
def test_groups_follow_music_that_has_fewer_frames_than_the_pause(tmp_path: Path, name: str, at: int) -> None:
    written = write_generation(name, tmp_path, cut_music(90, 150, 190, spare=10))
    music = written.index("Music", TrackKind.SOUND)
    boat = written.index("Cutaways", TrackKind.PICTURE)
    before = with_groups(written, ((music, 150), (boat, 150)), ((music, 20), (music, 90)))
    after = saved(before.with_edits([OpenPause(at, 25, WHY, (music,))]))
    assert check(after, original=before) == ()
    later = 90 if at == 90 else 100  # cut there, the second piece plays on and the first ends where it did
    assert grouped(after) >= {(music, 160), (boat, 175), (music, 20), (music, later)}
