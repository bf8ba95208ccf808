"""From projects and their files to what the cover planner is told."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import mltassist
from mltassist.cutaways.jumps import jump_cuts
from mltassist.cutaways.looks import jump_looks, worth_of_each
from mltassist.cutaways.planner.film import Frames
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.cutaways.task import cover_task, fixed_shots, unfit
from mltassist.errors import NoSuchPlace
from mltassist.frames import Rate, Span
from mltassist.recipe.cover import CoverRules
from mltassist.recipe.rules import parse_recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.edits import LayShot
from mltassist.timeline.picturecuts import picture_cuts
from tests.cli.films import EXAMPLE, at_rate, short, write
from tests.media.films import written

PAL = Rate(25)


def moving(count: int, width: int = 160, height: int = 90, seed: int = 1) -> np.ndarray:
    """A sharp, well exposed picture that drifts a little: (frames, height, width)."""
    rng = np.random.default_rng(seed)
    blocks = rng.uniform(0.2, 0.8, (height // 10 + 8, width // 10 + 8))
    scene = np.kron(blocks, np.ones((10, 10))).astype(np.float32)
    return np.stack([scene[20 : 20 + height, 20 + n // 4 : 20 + n // 4 + width] for n in range(count)])


def test_a_jump_that_shows_little_weighs_less_and_the_worst_is_covered_first(tmp_path: Path) -> None:
    project = mltassist.open(write(short(), tmp_path))
    findings = find(project.timeline, begin(project.timeline))
    cuts = picture_cuts(findings.timeline, findings.elements, ours=True)
    looks = jump_looks(findings, cuts)
    edits = speech_edits(findings.timeline, findings.elements, ours=True)
    open_jumps = {edit.at for edit in edits if edit.kind is CutKind.JUMP and not edit.covered}
    assert open_jumps
    assert open_jumps == {cut.at for cut in cuts if cut.kind is CutKind.JUMP} <= set(looks)
    assert all(0 <= look <= 1 for look in looks.values())
    alike = dict.fromkeys(looks, 0.1)
    assert all(cut.unlike == pytest.approx(0.25) for cut in jump_cuts(cuts, alike))
    unknown = list(jump_cuts(cuts, {}))
    assert all(cut.unlike == 1.0 for cut in unknown)


def test_two_files_of_one_set_up_make_a_jump_and_two_set_ups_none(tmp_path: Path) -> None:
    project = mltassist.open(write(short(), tmp_path))
    findings = find(project.timeline, begin(project.timeline))
    cuts = picture_cuts(findings.timeline, findings.elements, ours=True)
    cut = next(cut for cut in cuts if cut.kind is CutKind.JUMP)
    between = replace(cut, kind=CutKind.CHANGE)
    assert [jump.at for jump in jump_cuts((between,), {cut.at: 0.1})] == [cut.at]
    assert list(jump_cuts((between,), {cut.at: 0.9})) == []
    assert list(jump_cuts((between,), {})) == []


def test_the_part_of_a_clip_that_is_dark_is_not_used(tmp_path: Path) -> None:
    pictures = moving(200)
    pictures[80:140] *= 0.02
    path = written(tmp_path / "clip.mkv", pictures)
    span = Span(0, 200)
    found = worth_of_each(path, [span], PAL, 50)[span]
    assert len(found) == 2
    for span, worth in found:
        assert not span.overlaps(Span(82, 138))
        assert worth > 0.4
    assert found[0][0].end >= 76
    assert found[1][0].start <= 146


def test_clips_that_do_not_fit_are_told_by_why(tmp_path: Path) -> None:
    upright = written(tmp_path / "upright.mkv", moving(10, 90, 160))
    assert unfit(upright, CoverRules(), PAL) == ("upright pictures (portrait)", "portrait")
    assert unfit(upright, CoverRules(portrait=True), PAL) is None
    assert unfit(upright, CoverRules(), PAL, upright=True) is None
    flat = written(tmp_path / "flat.mkv", moving(10))
    assert unfit(flat, CoverRules(), PAL, upright=True) == ("wide pictures in an upright film (wide)", "wide")
    assert unfit(flat, CoverRules(wide=True), PAL, upright=True) is None
    assert unfit(flat, CoverRules(), PAL) is None
    assert unfit(flat, CoverRules(), Rate(50)) is None
    film = ("25 frames a second in a film of 24", "other_rates")
    assert unfit(flat, CoverRules(), Rate(24)) == film
    assert unfit(flat, CoverRules(other_rates=True), Rate(24)) is None
    assert unfit(tmp_path / "gone.mkv", CoverRules(), PAL) is None


def test_transcripts_beside_the_recordings_choose_the_shots() -> None:
    project = mltassist.open(EXAMPLE / "saltreed.kdenlive")
    plan = mltassist.cover(project)
    matched = plan.figures["matched"]
    assert len(matched) >= 12
    tags = {row["clip"]: row["tag"] for row in matched}
    assert any("gulls" in clip and tag == "gulls" for clip, tag in tags.items())
    reasons = [edit.reason for edit in plan.edits if isinstance(edit, LayShot)]
    assert any("'gulls' is said" in reason for reason in reasons)
    # The word is really said there: within two seconds of the shot.
    findings = find(project.timeline, begin(project.timeline))
    task, _ = cover_task(findings, (), look=False)
    reach = PAL.frames(2)
    for row in matched:
        shot = next(e for e in plan.edits if isinstance(e, LayShot) and e.at == row["at"])
        near = Span(shot.at, shot.at + shot.length).grown(reach, reach)
        assert any(word.text == row["word"] and word.at in near for word in task.words), row


def test_without_looking_every_moment_counts_alike() -> None:
    film = mltassist.open(EXAMPLE / "saltreed.kdenlive").timeline
    findings = find(film, begin(film))
    task, _ = cover_task(findings, (), look=False)
    assert {moment.worth for moment in task.supply} == {1.0}
    assert {cut.unlike for cut in task.cuts} == {1.0}
    plan = plan_cover(task, Frames.of(CoverRules(match_s=Fraction(2)), PAL), alternatives=2)
    assert len(plan.others) == len(plan.shots)
    for shot, others in zip(plan.shots, plan.others, strict=True):
        assert len(others) <= 2
        for other in others:
            assert other.span == shot.span
            assert other.moment != shot.moment
            assert other.moment.span.covers(Span(other.source_in, other.source_in + shot.span.length))


def test_clips_too_short_for_any_shot_are_told(tmp_path: Path) -> None:
    film = mltassist.open(write(short(), tmp_path)).timeline
    cut_short = {"wheel WS": 55, "flour CU": 75}  # a shot of 2 s, and half a second at either end
    bin_clips = tuple(
        replace(clip, source=replace(clip.source, length=cut_short.get(clip.name, clip.source.length)))
        for clip in film.bin
    )
    findings = find(replace(film, bin=bin_clips), begin(film))
    cover_task(findings, (), look=False)
    (told,) = [note.text for note in findings.notes if "left out" in note.text]
    assert "2 cutaways are left out (" in told and "wheel WS" in told and "flour CU" in told
    assert "shorter than 76 frames" in told


def test_clips_that_are_left_out_are_named_together(tmp_path: Path) -> None:
    project = mltassist.open(write(at_rate(Rate(30000, 1001), short()), tmp_path))
    plan = mltassist.cover(project)
    told = [note.text for note in plan.notes if "left out" in note.text]
    assert len(told) == 1
    assert "cutaways are left out (flour CU, flour ECU, flour MS ...)" in told[0]
    assert "25 frames a second in a film of 29.97; other_rates = true" in told[0]
    assert plan.figures["shots"] == 0
    assert plan.figures["pick_ups"]
    assert plan.figures["gap"] == 0


def test_what_the_recipe_fixes_forbids_and_leaves_is_kept() -> None:
    project = mltassist.open(EXAMPLE / "saltreed.kdenlive")
    recipe = parse_recipe(
        """
        forbid = ["gulls*"]
        [[fixed]]
        clip = "wheel WS"
        at = "00:00:20:00"
        length_s = 3
        [[fixed]]
        clip = "no such clip"
        at = "f10"
        length_s = 2
        [[stay]]
        at = "00:01:00:00"
        until = "00:01:12:00"
        """
    )
    plan = mltassist.cover(project, recipe=recipe)
    shots = [edit for edit in plan.edits if isinstance(edit, LayShot)]
    assert not [shot for shot in shots if "gulls" in shot.name]
    fixed = next(shot for shot in shots if shot.reason == "fixed by the recipe")
    assert (fixed.at, fixed.length, fixed.name, fixed.source_in) == (500, 75, "wheel WS", 13)
    stay = Span(1500, 1800)
    spans = sorted(Span(shot.at, shot.at + shot.length) for shot in shots)
    assert not [span for span in spans if span.overlaps(stay)]
    assert all(a.end <= b.start for a, b in pairwise(spans))
    assert any("no cutaway is called 'no such clip'" in note.text for note in plan.notes)
    others = [shot for shot in shots if shot.source == fixed.source and shot is not fixed]
    assert all(abs(shot.at - fixed.at) >= 60 * 25 for shot in others)
    plan.apply(project)


@pytest.mark.parametrize("until", ["f200", "f300"])
def test_a_stretch_to_stay_that_ends_before_it_begins_is_refused(until: str) -> None:
    project = mltassist.open(EXAMPLE / "saltreed.kdenlive")
    recipe = parse_recipe(f'[[stay]]\nat = "f300"\nuntil = "{until}"')
    with pytest.raises(NoSuchPlace, match=f"begins at 'f300' and ends at '{until}', which is no later; mend"):
        mltassist.cover(project, recipe=recipe, no_look=True)


def test_a_shot_fixed_near_the_end_ends_with_the_film() -> None:
    project = mltassist.open(EXAMPLE / "saltreed.kdenlive")
    end = project.timeline.length
    recipe = parse_recipe(
        f"""
        [[fixed]]
        clip = "wheel WS"
        at = "f{end - 40}"
        length_s = 3
        [[fixed]]
        clip = "tools MS"
        at = "f{end}"
        length_s = 3
        """
    )
    findings = find(project.timeline, begin(project.timeline, recipe))
    assert [shot.span for shot in fixed_shots(findings)] == [Span(end - 40, end)]
    told = [(note.text, note.at, note.needs_editor) for note in findings.notes]
    assert ("'wheel WS' is fixed here for 1.6 s, not 3: the film ends then", end - 40, True) in told
    assert ("'tools MS' is not laid: the film ends here", end, True) in told


def test_frames_fixed_to_one_place_are_not_shown_at_another() -> None:
    project = mltassist.open(EXAMPLE / "saltreed.kdenlive")
    wishes = ((500, "0.5"), (900, "2"), (1300, "3.5"))
    recipe = parse_recipe(
        "".join(
            f'[[fixed]]\nclip = "wheel WS"\nat = "f{at}"\nlength_s = 3\nfrom_s = {first}\n'
            for at, first in wishes
        )
    )
    findings = find(project.timeline, begin(project.timeline, recipe))
    assert [shot.span.start for shot in fixed_shots(findings)] == [500, 1300]
    told = "'wheel WS' is not laid: these frames of it are fixed to another place"
    assert [note.at for note in findings.notes if note.text == told] == [900]
