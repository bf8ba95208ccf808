"""Bites that were turned up against their speaker come back to that level, by a gain that the host shows."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from lxml import etree

import mltassist
from mltassist.checking import check
from mltassist.demofilm.film import Film, Lane, Placement, Rush
from mltassist.document import properties
from mltassist.frames import Rate
from mltassist.joins.planner.judge import Verdict
from mltassist.joins.planner.level import Link, gains_db
from mltassist.media.sound.decode import read_sound
from mltassist.recipe.rules import MendRules, Recipe
from mltassist.timeline.edits import ClearOurs, MatchLevel
from tests import referee
from tests.cli.films import EXAMPLE, LAYOUTS

HZ, FPS = 48000, 25
TURNED_DB = 5.3
"""By so much the camera's second file is louder."""
PART = 30
"""Seconds of each file of the take."""
BITES = ((0, 0, 375), (0, 440, 200), (1, 120, 225), (1, 420, 150))
"""File, first frame of it and length: the joins lie between phrases."""
UNMOVED = Recipe(mend=MendRules(reach_frames=1, crossfade=False))


def quiet_places(sound: np.ndarray, frames: list[int]) -> list[int]:
    """For each frame of 1/25 s the quietest place within half a second of it."""
    step = HZ // FPS
    power = np.square(sound[: len(sound) // step * step].reshape(-1, step)).sum(axis=1)
    smooth = np.convolve(power, np.ones(5), "same")
    return [max(0, f - 12) + int(np.argmin(smooth[max(0, f - 12) : f + 13])) if f else 0 for f in frames]


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One take in two files, in a room of its own 45 dB under the voice."""
    folder = tmp_path_factory.mktemp("take")
    interview = EXAMPLE / "media" / "interview" / "ines.mp4"
    spoken = read_sound(interview, 0, 2 * PART * HZ, mono=True)[0]
    spoken *= np.float32(0.1 / spoken.std())
    spoken += np.random.default_rng(2).normal(0, 0.1 * 10 ** (-45 / 20), spoken.size).astype(np.float32)
    soundfile.write(folder / "take-1.wav", spoken[: PART * HZ], HZ)
    louder = spoken[PART * HZ :] * np.float32(10 ** (TURNED_DB / 20))
    soundfile.write(folder / "take-2.wav", np.clip(louder, -1, 1), HZ, subtype="FLOAT")
    return folder


def film(folder: Path) -> Film:
    """Two bites of each file, in a row."""
    files = [f"take-{n}.wav" for n in (1, 2)]
    sounds = [soundfile.read(folder / name, dtype="float32")[0] for name in files]
    placements, at = [], 0
    for file, start, length in BITES:
        first, end = quiet_places(sounds[file], [start, start + length])
        placements.append(Placement(files[file], at, first, end - first))
        at += end - first
    rushes = tuple(Rush(n, n, "Interviews", ("interview",), PART * FPS, False, True) for n in files)
    lane = Lane("Interview", False, True, tuple(placements))
    return Film("Take", Rate(FPS), 64, 36, rushes, (lane,))


def loudness(path: Path, start: int, end: int) -> float:
    """Level of what melt plays of a document in some frames, dB."""
    sound = referee.sound(path, first=start, last=end - 1)
    return float(10 * np.log10(np.mean(np.square(sound, dtype=np.float64))))


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_louder_half_of_a_split_take_comes_back_to_its_speaker(take: Path, layout: str) -> None:
    made = film(take)
    path = take / layout
    path.write_bytes(LAYOUTS[layout](made))
    project = mltassist.open(path)
    found = mltassist.listen(project, recipe=UNMOVED, mend=True)
    bites = made.lanes[0].placements
    step = next(join for join in found.joins if join.at == bites[2].start)
    assert step.judgement.verdict is Verdict.HEARD
    assert step.judgement.reasons[0].words == "everything is 5 dB louder after the join"
    assert step.same_speaker == 1.0
    assert step.mended is not None
    assert step.mended.judgement.verdict is Verdict.CLEAN
    assert found.plan is not None
    edits = [edit for edit in found.plan.edits if isinstance(edit, MatchLevel)]
    assert [edit.at for edit in edits] == [bite.start for bite in bites[2:]]
    assert found.plan.figures["levels_matched"] == 2
    output = found.plan.apply(project)
    assert check(output, original=project) == ()
    saved = output.save(take / f"out-{layout}", force=True)
    for bite in bites[2:]:
        change = loudness(saved, bite.start, bite.start + bite.length) - loudness(
            path, bite.start, bite.start + bite.length
        )
        assert change == pytest.approx(-TURNED_DB, abs=0.5)
    for bite in bites[:2]:
        start, end = bite.start, bite.start + bite.length
        assert loudness(saved, start, end) == pytest.approx(loudness(path, start, end), abs=0.01)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_gain_of_ours_is_made_anew_even_where_the_host_has_dropped_our_mark(
    take: Path, layout: str
) -> None:
    path = take / layout
    path.write_bytes(LAYOUTS[layout](film(take)))
    project = mltassist.open(path)
    first = mltassist.listen(project, recipe=UNMOVED, mend=True).plan
    assert first is not None
    saved = first.apply(project).save(take / f"again-{layout}", force=True)
    tree = etree.parse(saved)
    for element in tree.iter("filter"):
        if properties.get(element, "mltassist:role") == "match":
            properties.drop(element, "mltassist:role")
    tree.write(str(saved))
    again = mltassist.open(saved)
    second = mltassist.listen(again, recipe=UNMOVED, mend=True).plan
    assert second is not None
    assert [e for e in second.edits if isinstance(e, MatchLevel)] == [
        e for e in first.edits if isinstance(e, MatchLevel)
    ]
    cleared = again.with_edits([ClearOurs("joins", "")])
    levels = [clip.levels for track in cleared.timeline.tracks for clip in track.clips()]
    assert not any(levels)


def test_the_recipe_may_leave_levels_as_they_are_or_only_tell_of_them(take: Path) -> None:
    path = take / "plain.mlt"
    path.write_bytes(LAYOUTS["plain.mlt"](film(take)))
    project = mltassist.open(path)
    for rules in (replace(UNMOVED.mend, levels=False), replace(UNMOVED.mend, level_most_db=3.0)):
        found = mltassist.listen(project, recipe=Recipe(mend=rules), mend=True)
        assert found.plan is not None
        assert not any(isinstance(edit, MatchLevel) for edit in found.plan.edits)
    assert any("more than is mended" in note.text for note in found.notes)


A, B, C, D = ((1, at) for at in (0, 100, 200, 300))


def test_the_clips_between_two_steps_move_together_and_the_usual_level_stays() -> None:
    links = [Link(A, B, 4.0), Link(B, C, 0.0), Link(C, D, -4.0)]
    levels = {A: -20.0, B: -16.0, C: -16.0, D: -20.0}
    assert gains_db(links, levels, dict.fromkeys(levels, 100)) == [{B: -4.0, C: -4.0}]
    # The longer ones are how the speaker speaks, however many the others are.
    assert gains_db(links, levels, {A: 10, B: 100, C: 100, D: 10}) == [{A: 4.0, D: 4.0}]
    assert gains_db([Link(A, B, 0.0)], levels, dict.fromkeys(levels, 100)) == []
