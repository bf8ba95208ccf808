"""Our own work is found again after the host has saved the project, and what was changed by hand is kept."""

from __future__ import annotations

from pathlib import Path

import pytest
from lxml import etree

from mltassist import api
from mltassist.cutaways.beside import clear_cover
from mltassist.document import properties
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.project import Project, open_project
from mltassist.timeline.edits import (
    AddMarker,
    ClearOurs,
    Edit,
    LayNatural,
    LayShot,
    LayUnder,
    OpenPause,
    SetLevelCurve,
)
from mltassist.timeline.model import Clip, LevelCurve, Timeline, TrackKind
from tests import referee
from tests.cli.films import short, write
from tests.hosts.films import BOAT, MUSIC, WAVES, rows
from tests.hosts.generations import GENERATIONS
from tests.hosts.written import WHY, Written, saved, track_named, write_generation

CLEAR_ALL = tuple(ClearOurs(what, WHY) for what in ("cover", "natural", "duck", "markers"))
KEYS = ((20, 0.0), (50, -18.0), (150, -18.0), (160, 0.0))


def saved_by_host(project: Project) -> Project:
    """The project without the properties that its host drops when it saves.

    Engine and hosts keep unknown properties of producers, filters and transitions, not of playlists,
    tractors and entries; kdenlive writes its own effects and clips, but keeps its document's properties.
    """
    forgotten = ["playlist", "tractor", "entry"]
    if project.host.name == "kdenlive":
        forgotten += ["filter", "producer", "chain", "transition"]
    for element in project.document.root.iter(*forgotten):
        for name in properties.all_of(element):
            if name.startswith("mltassist:"):
                properties.drop(element, name)
    text = etree.tostring(project.document.root, encoding="unicode")
    assert project.host.name == "shotcut" or "mltassist:role" not in text
    return saved(project)


def work(written: Written, project: Project, *, at: int = 70, gain_db: float = -18.0) -> tuple[Edit, ...]:
    music = track_named(project.timeline, "Music", TrackKind.SOUND).index
    return (
        SetLevelCurve(20, music, ((20, 0.0), (50, gain_db), (150, gain_db), (160, 0.0)), WHY),
        LayShot(at, 30, written.key(BOAT.file), 12, WHY),
        LayShot(at, 30, written.key(WAVES.file), 20, WHY, "alternatives"),
        LayUnder(at, 30, written.key(BOAT.file), 12, WHY, fade_in=3, fade_out=3),
        LayNatural(142, 15, written.key(WAVES.file), 30, WHY, lead=5, trail=8, fade_in=2, fade_out=3),
        AddMarker(90, "look", WHY),
    )


def music_levels(timeline: Timeline) -> tuple[LevelCurve, ...]:
    return next(track_named(timeline, "Music", TrackKind.SOUND).clips()).levels


@pytest.fixture(params=GENERATIONS)
def written(request: pytest.FixtureRequest, tmp_path: Path) -> Written:
    return write_generation(request.param, tmp_path)


def test_a_second_run_after_the_host_has_saved_replaces_the_first(written: Written):
    once = saved(written.project().with_edits(work(written, written.project())))
    again = saved_by_host(once)
    assert [track.ours for track in again.timeline.tracks] == [track.ours for track in once.timeline.tracks]
    assert again.timeline.changed_by_hand("cover") == ()
    twice = saved(again.with_edits((*CLEAR_ALL, *work(written, again, at=100, gain_db=-12.0))))
    referee.check_names(twice.document.root)
    timeline = twice.timeline
    assert len(timeline.tracks) == len(once.timeline.tracks)
    cover, natural = timeline.of_role("cover"), timeline.of_role("natural")
    assert cover is not None
    assert natural is not None
    assert rows(cover) == [(100, 30, BOAT.file, 12)]
    stack, under = timeline.of_role("alternatives"), timeline.of_role("under")
    assert stack is not None
    assert under is not None
    assert stack.hidden
    assert rows(stack) == [(100, 30, WAVES.file, 20)]
    assert rows(under) == rows(cover)
    assert rows(natural) == [(137, 28, WAVES.file, 25)]
    (curve,) = music_levels(timeline)
    assert [key.gain_db for key in curve.keys] == [0, -12, -12, 0]
    assert len([marker for marker in timeline.markers if marker.ours]) == 1
    count = {name: len(list(once.document.root.iter(name))) for name in ("producer", "chain", "filter")}
    assert {name: len(list(twice.document.root.iter(name))) for name in count} == count


def test_a_pause_between_the_runs_does_not_hide_the_curve(written: Written):
    once = saved(written.project().with_edits(work(written, written.project())))
    music = track_named(once.timeline, "Music", TrackKind.SOUND).index
    paused = saved_by_host(saved(saved_by_host(once).with_edits([OpenPause(60, 20, WHY, run_on=(music,))])))
    assert [key.frame for key in music_levels(paused.timeline)[0].keys] == [20, 50, 170, 180]
    assert paused.timeline.changed_by_hand("cover") == ()
    assert music_levels(saved(paused.with_edits(CLEAR_ALL)).timeline) == ()


def test_a_gain_of_the_editors_is_not_taken_for_ours(written: Written):
    once = saved_by_host(saved(written.project().with_edits(work(written, written.project()))))
    ours = next(
        element
        for element in once.document.root.iter("filter")
        if "-18" in (properties.get(element, "level") or "")
    )
    properties.put(ours, "level", (properties.get(ours, "level") or "").replace("-18", "-17"))
    properties.drop(ours, "mltassist:role")
    cleared = saved(once.with_edits(CLEAR_ALL)).timeline
    (curve,) = music_levels(cleared)
    assert min(key.gain_db for key in curve.keys) == -17


# --- changed by hand ------------------------------------------------------------------------------


def entry_of_ours(project: Project, number: int, role: str = "cover") -> etree._Element:
    parts = Parts(project.document)
    strips = project.host.strips(parts, main_timeline(project.host, parts))
    strip = next(strip for strip in strips if strip.role == role)
    return list(strip.playlists[0].iterchildren("entry"))[number]


def trim(project: Project, number: int = 0) -> Project:
    """A shot of ours ends three frames earlier, with a blank in their place, as a hand would do it."""
    parts = Parts(project.document)
    entry = entry_of_ours(project, number)
    entry.set("out", parts.write(parts.frames(entry.get("out")) - 3))
    later = entry.getnext()
    if later is not None and later.tag == "blank":
        later.set("length", parts.write(parts.frames(later.get("length")) + 3))
    elif later is not None:
        entry.addnext(etree.Element("blank", length=parts.write(3)))
    return saved(project)


def slip(project: Project, number: int = 0, role: str = "cover") -> Project:
    """A shot of ours shows another moment of its clip."""
    parts = Parts(project.document)
    entry = entry_of_ours(project, number, role)
    for name in ("in", "out"):
        entry.set(name, parts.write(parts.frames(entry.get(name)) + 5))
    return saved(project)


def two_shots(written: Written) -> Project:
    shots = [LayShot(at, 30, written.key(BOAT.file), 12, WHY) for at in (20, 70)]
    return saved(written.project().with_edits(shots))


@pytest.mark.parametrize("change", [trim, slip])
def test_a_shot_changed_by_hand_is_told_from_the_others(written: Written, change):
    project = saved_by_host(change(two_shots(written)))
    (changed,) = project.timeline.changed_by_hand("cover")
    assert changed.start == 20
    kept = saved(project.with_edits([clear_cover(project.timeline, keep_changed=True)]))
    cover = kept.timeline.of_role("cover")
    assert cover is not None
    assert [clip.start for clip in cover.clips()] == [20]
    # It is still the editor's for the runs to come, wherever it moves.
    moved = saved(kept.with_edits([OpenPause(5, 10, WHY)]))
    assert [clip.start for clip in moved.timeline.changed_by_hand("cover")] == [30]


def test_a_clip_put_on_our_track_by_hand_is_kept(written: Written):
    project = two_shots(written)
    music_part = next(
        e
        for e in project.document.root.iter("producer", "chain")
        if (properties.get(e, "resource") or "") == MUSIC.file
    )
    entry_of_ours(project, 1).set("producer", music_part.get("id", ""))
    project = saved(project)
    assert [clip.start for clip in project.timeline.changed_by_hand("cover")] == [70]


def test_what_lies_beside_a_shot_stays_only_where_it_was_changed_itself(written: Written):
    beside = [LayShot(at, 30, written.key(WAVES.file), 20, WHY, "alternatives") for at in (20, 70)]
    beside += [LayShot(at, 30, written.key(BOAT.file), 12, WHY) for at in (20, 70)]
    project = saved(written.project().with_edits(beside))
    changed = saved_by_host(slip(trim(project, 0), 1, "alternatives"))
    kept = saved(changed.with_edits([clear_cover(changed.timeline, keep_changed=True)])).timeline
    cover, stack = kept.of_role("cover"), kept.of_role("alternatives")
    assert cover is not None
    assert stack is not None
    assert [clip.start for clip in cover.clips()] == [20, 70]
    assert [(clip.start, clip.source_in) for clip in stack.clips()] == [(70, 25)]
    assert stack.hidden
    assert [clip.start for clip in kept.changed_by_hand("alternatives")] == [70]


# --- the whole pass -------------------------------------------------------------------------------


def shots(project: Project) -> list[tuple[int, int, str, int]]:
    track = project.timeline.of_role("cover")
    assert track is not None
    return [_row(clip) for clip in track.clips()]


def _row(clip: Clip) -> tuple[int, int, str, int]:
    return clip.start, clip.length, clip.source.key, clip.source_in


@pytest.mark.parametrize("layout", ["host.kdenlive", "shotcut.mlt"])
def test_a_cover_keeps_what_was_changed_by_hand_only_where_it_is_asked_to(layout: str, tmp_path: Path):
    project = open_project(write(short(), tmp_path, layout))
    once = saved(api.cover(project).apply(project))
    laid = shots(once)
    changed = saved_by_host(trim(once))
    first = shots(changed)[0]
    keeping = api.cover(changed, keep_changed=True)
    assert first in shots(keeping.apply(changed))
    assert [note.at for note in keeping.notes if "changed by hand and is kept" in note.text] == [first[0]]
    replacing = api.cover(changed)
    assert shots(replacing.apply(changed)) == laid
    assert [n.at for n in replacing.notes if "changed by hand and is replaced" in n.text] == [first[0]]
