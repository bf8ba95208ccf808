"""Crossings on tracks that our own track moves up."""

from __future__ import annotations

from pathlib import Path

import mltassist
from mltassist.demofilm.documents import kdenlive_document
from mltassist.demofilm.film import Film, Lane, Placement, Rush
from mltassist.frames import Rate
from tests.joins.test_cross import AFTER, BEFORE, FPS, STILL, recording


def test_joins_on_the_very_track_that_makes_room_for_ours_all_cross_over(tmp_path: Path) -> None:
    """In this layout our track goes below those of sound, where the interview was: number 1."""
    recording(tmp_path / "bites.wav", hum=0.012)
    first, bite = int(BEFORE * FPS), 100
    bites = [
        Placement("bites.wav", start, source_in, length)
        for scene in (0, 200)
        for start, source_in, length in (
            (scene, 0, first),
            (scene + first, int(AFTER * FPS), bite),
        )
    ]
    rush = Rush("bites.wav", "Bites", "Interviews", ("interview",), 14 * FPS, False, True)
    lane = Lane("Interview", False, True, tuple(bites))
    path = tmp_path / "film.kdenlive"
    path.write_bytes(kdenlive_document(Film("Bites", Rate(FPS), 64, 36, (rush,), (lane,))))
    project = mltassist.open(path)
    plan = mltassist.listen(project, recipe=STILL, mend=True).plan
    assert plan is not None
    made = plan.apply(project).timeline
    ours = made.of_role("joins")
    assert ours is not None
    assert [track.index for track in project.timeline.tracks if track.name == "Interview"] == [ours.index]
    assert [clip.span.end for clip in ours.clips()] == [first, 200 + first]
    (interview,) = (track for track in made.tracks if track.name == "Interview")
    faded = [clip.span.end for clip in interview.clips() if any(curve.ours for curve in clip.levels)]
    assert faded == [first, 200 + first]
