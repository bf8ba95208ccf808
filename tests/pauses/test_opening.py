"""Music that cannot run on through a pause, rendered by the engine."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import mltassist
from mltassist.demofilm.film import Film, Lane, Mark, Placement
from mltassist.demofilm.scenario import MUSIC_FILE
from mltassist.frames import Span
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.mix import stem
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.timeline.edits import Edit, LayNatural, OpenPause, SetLevelCurve
from mltassist.timeline.model import Timeline
from mltassist.timeline.wholes import uncut
from tests import referee
from tests.cli.films import LAYOUTS, short, write

FRAME = MIX_HZ // 25
FADE = 25
SPARE = 20
"""Frames that the music has beyond its clip, which lies from frame 120 to 1000."""
END = 1000 + SPARE


def short_music() -> Film:
    made = short()
    rushes = (replace(r, length=880 + SPARE) if r.file.endswith("creek.m4a") else r for r in made.rushes)
    return replace(made, rushes=tuple(rushes))


def paused(project: Project) -> Plan:
    return mltassist.pause(project, at=["let the wheel be heard"], length=Fraction(2))


def is_fade(edit: Edit) -> bool:
    return isinstance(edit, SetLevelCurve) and edit.what == "fade"


def music_track(timeline: Timeline) -> int:
    return next(track.index for track in timeline.tracks if track.name == "Music")


def level_db(sound: np.ndarray) -> float:
    return float(10 * np.log10(np.square(sound, dtype=np.float64).mean() + 1e-20))


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("layout", LAYOUTS)
def test_music_that_ends_in_a_pause_fades_to_its_last_frame(tmp_path: Path, layout: str) -> None:
    """The reference is melt: the same film with and without the fade."""
    project = mltassist.open(write(short_music(), tmp_path, layout))
    plan = paused(project)
    (fade,) = filter(is_fade, plan.edits)
    assert any("it ends 00:00:01:05 early" in note.text and note.needs_editor for note in plan.notes)
    heard = []
    for name, made in (("with", plan), ("without", plan.keep(lambda edit: edit != fade))):
        path = made.apply(project).save(tmp_path / f"{name}-{layout}")
        only = {music_track(mltassist.open(path).timeline)}
        heard.append(referee.sound(path, first=900, last=END + 9, only_tracks=only))
    faded, plain = (sound.reshape(2, -1, FRAME) for sound in heard)
    end, begins = END - 900, END - 900 - FADE
    assert level_db(faded[:, end - 1]) < level_db(faded[:, begins - FADE : begins]) - 30
    assert level_db(plain[:, end - 1]) > level_db(plain[:, begins - FADE : begins]) - 20, "it broke off"
    assert np.array_equal(faded[:, :begins], plain[:, :begins])
    assert not faded[:, end + 1 :].any()


def test_a_fade_stays_when_the_music_is_ducked_and_both_add_up(tmp_path: Path) -> None:
    project = mltassist.open(write(short_music(), tmp_path))
    faded = paused(project).apply(project)
    plan = mltassist.duck(faded)
    ducked = plan.apply(faded)
    twice = mltassist.duck(ducked).apply(ducked)
    assert [t.items for t in twice.timeline.tracks] == [t.items for t in ducked.timeline.tracks]
    track = ducked.timeline.track(music_track(ducked.timeline))
    (clip,) = track.clips()
    fade, duck = clip.levels
    assert fade.ours
    assert duck.ours
    assert [key.gain_db for key in fade.keys] == [0.0, 0.0, -60.0]
    assert [key.frame for key in fade.keys] == [clip.start, END - 1 - FADE, END - 1]
    span = Span(END - FADE, END)
    both, alone = (
        stem([(track, replace(clip, levels=levels))], span, ducked.timeline.rate)
        for levels in ((fade, duck), (duck,))
    )
    assert level_db(both[:, -FRAME:]) < level_db(alone) - 30


def test_a_fade_is_left_out_with_its_pause(tmp_path: Path) -> None:
    project = mltassist.open(write(short_music(), tmp_path))
    plan = paused(project)
    assert any(map(is_fade, plan.edits))
    assert not any(map(is_fade, plan.keep(lambda edit: not isinstance(edit, OpenPause)).edits))


@pytest.mark.parametrize("missing", [0, 1])
def test_natural_sound_keeps_off_head_and_tail_of_its_recording(tmp_path: Path, missing: int) -> None:
    """Half a second at both ends is a handle: a recording without both is too short by one frame already."""
    made, handle, whole = short(), 13, 2 * 25 + 6 + 6
    length = 2 * handle + whole - missing
    rushes = (replace(r, length=length) if r.file.startswith("media/natural/") else r for r in made.rushes)
    plan = paused(mltassist.open(write(replace(made, rushes=tuple(rushes)), tmp_path)))
    used = [(edit.source_in - 6, edit.length + 12) for edit in plan.edits if isinstance(edit, LayNatural)]
    assert used == [(handle, whole)] * (not missing)
    assert any("no natural sound was found" in note.text for note in plan.notes) is bool(missing)


def test_natural_sound_that_is_in_the_film_already_is_not_shown_twice(tmp_path: Path) -> None:
    def chosen(made: Film, folder: str) -> tuple[str, Span]:
        (tmp_path / folder).mkdir()
        plan = paused(mltassist.open(write(made, tmp_path / folder)))
        (laid,) = [edit for edit in plan.edits if isinstance(edit, LayNatural)]
        return Path(laid.source).name, Span(laid.source_in, laid.source_in + laid.length)

    made = short()
    name, best = chosen(made, "without")
    file = next(rush.file for rush in made.rushes if rush.file.endswith(f"/{name}"))
    place = Lane("Places", True, False, (Placement(file, made.length, best.start, best.length),))
    again, other = chosen(replace(made, lanes=(*made.lanes, place)), "with")
    assert again != name or not other.overlaps(best)


CUTS = (20, 300, 420)
"""Frames at which the music, which plays to frame 700, was cut with nothing removed."""


def cut_music(length: int = 700) -> Film:
    made = short(700)
    pieces = tuple(
        Placement(MUSIC_FILE, start, start, end - start)
        for start, end in zip((0, *CUTS), (*CUTS, length), strict=True)
    )
    lanes = tuple(replace(lane, placements=pieces) if lane.name == "Music" else lane for lane in made.lanes)
    rushes = (replace(r, length=length + SPARE) if r.file == MUSIC_FILE else r for r in made.rushes)
    return replace(made, lanes=lanes, rushes=tuple(rushes))


@pytest.mark.parametrize("at", [280, 300, 533])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_music_that_was_cut_with_nothing_removed_plays_on_without_a_jump(
    tmp_path: Path, layout: str, at: int
) -> None:
    project = mltassist.open(write(cut_music(), tmp_path, layout))
    number = music_track(project.timeline)
    keys = ((300, -12.0), (400, -20.0), (419, -3.0))
    curve = SetLevelCurve(300, number, keys, "", "fade")
    made = project.with_edits([curve, OpenPause(at, SPARE, "", (number,))])
    (pieces,) = uncut(made.timeline.track(number))
    assert Span(pieces[0].start, pieces[-1].span.end) == Span(0, 700 + SPARE)
    assert [piece.source_in for piece in pieces] == [piece.start for piece in pieces]
    assert [piece.start for piece in pieces] == [0, *(cut + SPARE * (cut > at) for cut in CUTS)]
    ((moved,),) = (piece.levels for piece in pieces if piece.levels)
    gains = {key.frame: key.gain_db for key in moved.keys}
    assert gains.items() >= {frame + SPARE * (frame > at): gain for frame, gain in keys}.items()
    assert at != 300 or gains[300 + SPARE] == -12


def test_cut_music_that_ends_in_a_pause_fades_at_the_end_of_its_last_piece(tmp_path: Path) -> None:
    project = mltassist.open(write(cut_music(), tmp_path))
    plan = mltassist.pause(project, at=["f280"], length=Fraction(2))
    (fade,) = (edit for edit in plan.edits if is_fade(edit) and edit.track == music_track(project.timeline))
    assert (fade.at, fade.keys[-1][0]) == (CUTS[-1] + SPARE, 700 + SPARE - 1)
    made = plan.apply(project).timeline
    assert made.track(music_track(made)).end == 700 + SPARE


def test_a_pause_suggested_where_a_marker_stands_plays_what_the_marker_asks_for(tmp_path: Path) -> None:
    made = short(2600)
    bare = mltassist.open(write(replace(made, marks=()), tmp_path))
    plan = mltassist.pause(bare, length=Fraction(2), suggest=1)
    place = next(edit.at for edit in plan.edits if isinstance(edit, OpenPause))
    taken = next(edit.name for edit in plan.edits if isinstance(edit, LayNatural))
    assert plan.edits[0].reason == "suggested: speech rests here"
    subject, name = ("gulls", "gulls") if taken != "gulls" else ("winch", "gate winch")
    marks = (Mark(place, f"let the {subject} be heard"),)
    marked = mltassist.open(write(replace(made, marks=marks), tmp_path, "host.kdenlive"))
    plan = mltassist.pause(marked, length=Fraction(2), suggest=1)
    opened = next(edit for edit in plan.edits if isinstance(edit, OpenPause))
    laid = next(edit for edit in plan.edits if isinstance(edit, LayNatural))
    assert opened.at == place
    assert opened.reason == f"suggested: speech rests here, and a marker says: let the {subject} be heard"
    assert (laid.name, laid.reason) == (name, f"the most alive moment, its subject is named: {subject}")
    asked = mltassist.pause(marked, at=f"f{place}", length=Fraction(2))
    assert next(edit.reason for edit in asked.edits if isinstance(edit, OpenPause)).endswith("asked for here")
    assert next(edit.name for edit in asked.edits if isinstance(edit, LayNatural)) == name
