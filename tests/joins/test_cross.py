"""A join that clicks crosses over within a frame, and the holes of a recording are filled with its room."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

import mltassist
from mltassist.checking import check
from mltassist.findings import spoken_sound
from mltassist.frames import Span
from mltassist.joins.clicks import click
from mltassist.joins.planner.judge import Verdict
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.mix import stem
from mltassist.recipe.rules import MendRules, Recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.edits import ClearOurs, FadeJoin, LayTone, NudgeJoin
from tests import referee
from tests.cli.films import EXAMPLE
from tests.media.sound.mixes import film_mix
from tests.media.sound.test_mix_played import prop

HZ, FPS = 48000, 25
BEFORE, AFTER = 3.0, 9.0
"""Seconds of the recording at which the bites end and begin, each in a pause of two seconds."""


def recording(path: Path, *, hum: float) -> None:
    """Loud speech with quiet at both places, in which a low hum swells, turned over at the second."""
    narration = EXAMPLE / "media" / "narration" / "narrator.m4a"
    spoken = read_sound(narration, 0, 6 * HZ, mono=True)[0]
    room = 0.0002 * np.random.default_rng(4).standard_normal(14 * HZ)
    sound = room.astype(np.float32)
    for at, part in ((0, spoken[: 2 * HZ]), (4 * HZ, spoken[2 * HZ :]), (10 * HZ, spoken[: 4 * HZ])):
        sound[at : at + part.size] += 0.9 * part / np.abs(spoken).max()
    for at, sign in ((BEFORE, 1), (AFTER, -1)):
        t = np.arange(-HZ // 2, HZ // 2) / HZ
        swell = np.cos(np.pi * t) ** 2
        first = int(at * HZ) - HZ // 2
        sound[first : first + HZ] += (sign * hum * swell * np.cos(2 * np.pi * 20 * t)).astype(np.float32)
    soundfile.write(path, sound, HZ, subtype="PCM_16")


def film(folder: Path, *, hum: float = 0.0, hole: int = 0, gain_db: float = 0.0) -> Path:
    """Two bites of one recording, with a hole of so many frames between them."""
    path = folder / "bites.wav"
    recording(path, hum=hum)
    level = f"<filter>{prop('mlt_service', 'volume')}{prop('level', gain_db)}</filter>" if gain_db else ""
    (folder / "film.mlt").write_text(
        f'<mlt LC_NUMERIC="C"><profile description="p" width="64" height="36" progressive="1"'
        f' sample_aspect_num="1" sample_aspect_den="1" display_aspect_num="16" display_aspect_den="9"'
        f' frame_rate_num="{FPS}" frame_rate_den="1" colorspace="709"/>'
        f'<producer id="bites" in="0" out="{14 * FPS - 1}">{prop("length", 14 * FPS)}'
        f"{prop('resource', path)}{prop('mlt_service', 'avformat')}</producer>"
        f'<playlist id="base"/><playlist id="speech">{prop("mltassist:name", "Interview")}'
        f'<entry producer="bites" in="0" out="{int(BEFORE * FPS) - 1}">{level}</entry>'
        + (f'<blank length="{hole}"/>' if hole else "")
        + f'<entry producer="bites" in="{int(AFTER * FPS)}" out="{13 * FPS}">{level}</entry></playlist>'
        f'<tractor id="film"><track producer="base"/><track producer="speech" hide="video"/>'
        f"<transition>{prop('mlt_service', 'mix')}{prop('a_track', 0)}{prop('b_track', 1)}"
        f"{prop('sum', 1)}{prop('always_active', 1)}</transition></tractor></mlt>",
        encoding="utf-8",
    )
    return folder / "film.mlt"


def around(sound: NDArray[np.float32], at: int) -> float:
    """The click at a sample, by the measure of joins at a third of the rate."""
    return click(sound[0, at % 3 : at : 3], sound[0, at::3])


STILL = Recipe(mend=MendRules(reach_frames=1, better_by=0.25))


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("gain_db", [0.0, -4.0])
def test_a_click_is_gone_where_the_sides_cross_over(tmp_path: Path, gain_db: float) -> None:
    path = film(tmp_path, hum=0.012, gain_db=gain_db)
    project = mltassist.open(path)
    found = mltassist.listen(project, recipe=STILL, mend=True)
    (join,) = found.joins
    assert [reason.kind for reason in join.judgement.reasons] == ["click"]
    assert join.mended is not None
    assert join.mended.judgement.verdict is Verdict.CLEAN
    assert found.plan is not None
    edit = next(edit for edit in found.plan.edits if isinstance(edit, FadeJoin))
    assert not any(isinstance(e, NudgeJoin) for e in found.plan.edits)  # nothing needs to move
    assert (edit.at, edit.source_in, edit.gain_db) == (int(BEFORE * FPS), int(AFTER * FPS), gain_db)
    assert found.plan.figures["joins_crossed_over"] == 1
    made = found.plan.apply(project)
    assert check(made, original=project) == ()
    output = made.save(tmp_path / "out.mlt")
    span = Span(edit.at - 25, edit.at + 25)
    was, now = (referee.sound(p, first=span.start, last=span.end - 1) for p in (path, output))
    assert around(was, HZ) > 10
    assert around(now, HZ) < 3
    assert np.abs(np.diff(now[0])).max() < np.abs(np.diff(was[0])).max()
    # All but the frame before the join is as it was, and that frame is what was foretold.
    untouched = np.r_[: HZ - HZ // FPS, HZ : 2 * HZ]
    assert np.abs(now - was)[:, untouched].max() < 2e-4
    assert np.abs(now - film_mix(mltassist.open(output).timeline, span)).max() < 2e-4
    # It is heard so from then on, and taken away and made again by the next run.
    again = mltassist.listen(mltassist.open(output), recipe=STILL)
    assert [join.judgement.verdict for join in again.joins] == [Verdict.CLEAN]
    twice = mltassist.listen(made, recipe=STILL, mend=True).plan
    assert twice is not None
    assert twice.apply(made).timeline.tracks == made.timeline.tracks


def test_a_join_without_a_click_does_not_cross_over(tmp_path: Path) -> None:
    found = mltassist.listen(mltassist.open(film(tmp_path)), recipe=STILL, mend=True)
    assert found.plan is not None
    assert [edit for edit in found.plan.edits if not isinstance(edit, ClearOurs)] == []
    never = Recipe(mend=MendRules(reach_frames=1, crossfade=False))
    found = mltassist.listen(mltassist.open(film(tmp_path, hum=0.012)), recipe=never, mend=True)
    assert found.plan is not None
    assert not any(isinstance(edit, FadeJoin) for edit in found.plan.edits)


@pytest.mark.usefixtures("requires_melt")
def test_a_hole_is_filled_with_the_room_of_its_recording(tmp_path: Path) -> None:
    path = film(tmp_path, hole=20, gain_db=-4.0)
    project = mltassist.open(path)
    assert mltassist.listen(project, mend=True).plan is not None
    rules = Recipe(mend=MendRules(room_tone=True))
    plan = mltassist.listen(project, recipe=rules, mend=True).plan
    assert plan is not None
    (edit,) = (edit for edit in plan.edits if isinstance(edit, LayTone))
    assert plan.figures["holes_filled"] == 1
    at = int(BEFORE * FPS)
    assert Span(edit.at, edit.at + edit.length) == Span(at - 2, at + 21)
    made = plan.apply(project)
    output = made.save(tmp_path / "out.mlt")
    hole = Span(at, at + 20)
    was, now = (referee.sound(p, first=hole.start, last=hole.end - 1) for p in (path, output))
    assert np.abs(was).max() < 1e-6
    # The room was laid in at -74 dBFS, and plays on both sides 3 dB down, 4 dB down on the timeline.
    wanted = 0.0002 * 10 ** (-(3.01 + 4) / 20)
    blocks = np.sqrt(np.mean(now[0].reshape(-1, HZ // FPS) ** 2, axis=1))
    assert np.abs(20 * np.log10(blocks / wanted)).max() < 1.5
    there = find(made.timeline, begin(made.timeline, rules))
    assert np.abs(stem(spoken_sound(there), hole, there.timeline.rate) - now).max() < 2e-4


def test_a_hole_stays_where_the_recording_is_never_quiet_or_the_hole_is_meant(tmp_path: Path) -> None:
    rules = Recipe(mend=MendRules(room_tone=True))
    for hole, told in ((100, True), (200, False)):
        found = mltassist.listen(mltassist.open(film(tmp_path, hole=hole)), recipe=rules, mend=True)
        assert found.plan is not None
        assert not any(isinstance(edit, LayTone) for edit in found.plan.edits)
        assert any("nowhere quiet" in note.text for note in found.notes) is told
