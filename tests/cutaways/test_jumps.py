"""Jumps of a whole timeline: what is to be covered, what the cover does to it, and what is told of it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from mltassist.cutaways.figures import cover_figures
from mltassist.cutaways.jumps import find_jumps
from mltassist.cutaways.planner.film import Frames, Shot
from mltassist.cutaways.planner.laying import cover_edits
from mltassist.cutaways.planner.plan import plan_cover
from mltassist.cutaways.task import cover_task
from mltassist.frames import Span
from mltassist.rushes.find import begin, find
from mltassist.timeline.model import Track
from tests.cutaways.films import RULES, clips
from tests.timeline.films import clip, row, timeline, track


def covered(*tracks: Track) -> tuple[list[tuple[int, bool]], list[int], list[Shot]]:
    """Cuts to be covered, the figures (found, by the editor, by size, now, left), and the shots."""
    film = timeline(*tracks)
    findings = find(film, begin(film))
    task, jumps = cover_task(findings, (), look=False)
    task = replace(task, supply=clips(12))
    plan = plan_cover(task, Frames.of(findings.recipe.cover, findings.timeline.rate))
    assert plan.breaches == ()
    assert len(cover_edits(task, plan)) == len(plan.shots)
    figures = list(cover_figures(findings, task, jumps, plan, ()).values())
    return [(cut.at, cut.seen) for cut in task.cuts], figures[:5], list(plan.shots)


PICTURE = track(1, "Interview", row(("ines", 240, 0), ("ines", 400, 420)), muted=True)


@pytest.mark.parametrize("sound_at", [135, 234, 246, 345])
def test_one_shot_lies_over_both_cuts_of_a_split_edit(sound_at: int) -> None:
    sound = row(("ines", sound_at, 0), ("ines", 640 - sound_at, sound_at + 180))
    cuts, figures, shots = covered(PICTURE, track(2, "Interview sound", sound, sound=True))
    assert sorted(cuts) == sorted([(240, True), (sound_at, False)])
    assert figures == [1, 0, 0, 1, 0]
    both = Span(min(240, sound_at), max(240, sound_at)).grown(RULES.margin, RULES.margin)
    assert [shot.span.covers(both) for shot in shots] == [True]


@pytest.mark.parametrize(("ends_at", "seen"), [(246, True), (245, False)])
def test_a_cut_in_sound_shows_where_the_face_ends_with_the_very_frame_before_it(
    ends_at: int, seen: bool
) -> None:
    """The editor's own cutaway follows the face, and covers a cut in sound that comes later."""
    picture = track(1, "Interview", row(("ines", 240, 0), ("ines", ends_at - 240, 420)), muted=True)
    over = track(2, "Cutaways", row((None, ends_at), ("wheel", 640 - ends_at)), muted=True)
    sound = row(("ines", 246, 0), ("ines", 394, 426))
    film = timeline(picture, over, track(3, "Interview sound", sound, sound=True))
    found = find_jumps(find(film, begin(film)), look=False)
    assert [(cut.at, cut.seen) for cut in found.cuts] == [(240, True), *[(246, False)] * seen]


def test_a_cut_in_sound_far_from_that_in_picture_is_covered_by_itself() -> None:
    sound = row(("ines", 500, 0), ("ines", 140, 680))
    cuts, figures, shots = covered(PICTURE, track(2, "Interview sound", sound, sound=True))
    assert cuts == [(240, True), (500, False)]
    assert figures == [1, 0, 0, 1, 0]
    assert [[at in shot.span for at in (240, 500)] for shot in shots] == [[True, False], [False, True]]


def test_a_listener_who_jumps_is_covered_though_nobody_hears_it() -> None:
    speaker = track(1, "Interview", row(("ines", 500, 0)))
    listener = track(2, "Interview B", row((None, 150), ("tobias", 100, 0), ("tobias", 100, 150)), muted=True)
    assert covered(speaker, listener)[:2] == ([(250, True)], [1, 0, 0, 1, 0])
    assert covered(speaker, replace(listener, hidden=True))[:2] == ([], [0, 0, 0, 0, 0])
    # A jump of the speaker under him is not seen; where both jump at once it is.
    for place, expected in ((200, ([(250, True)], [2, 1, 0, 1, 0])), (250, ([(250, True)], [1, 0, 0, 1, 0]))):
        jumping = track(1, "Interview", row(("ines", place, 0), ("ines", 500 - place, place + 90)))
        assert covered(jumping, listener)[:2] == expected


def test_a_recording_that_goes_on_at_another_speed_jumps() -> None:
    fast = replace(clip("ines", 200, 200, 400), speed=Fraction(5, 4))
    bites = clip("ines", 0, 200, 0), fast, clip("ines", 400, 200, 50)
    cuts, figures, _ = covered(track(1, "Interview", bites))
    assert cuts == [(200, True), (400, True)]
    assert figures == [2, 0, 0, 2, 0]


def test_a_punch_in_hides_both_cuts_of_a_split_edit() -> None:
    before, after = row(("ines", 240, 0), ("ines", 400, 420))
    closer = replace(after, zoom=(Fraction(3, 2), Fraction(3, 2)))
    sound = track(2, "Interview sound", row(("ines", 280, 0), ("ines", 360, 460)), sound=True)
    picture = track(1, "Interview", (before, closer), muted=True)
    assert covered(picture, sound) == ([], [1, 0, 1, 0, 0], [])
