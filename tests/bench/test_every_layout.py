"""The whole pass rendered in the layouts that the suite leaves out, pictures and sound.

python -m pytest tests/bench/test_every_layout.py
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.cli.films import DOCUMENTS
from tests.passes import Pass
from tests.test_no_black import test_no_frame_is_black_between_the_first_picture_and_the_last as no_black
from tests.test_rough_rendered import (
    Done,
    test_clips_are_where_the_engine_plays_them,
    test_each_shot_shows_the_source_frames_that_were_planned,
    test_every_jump_cut_shows_a_cutaway_never_the_face,
    test_music_has_no_hole_at_the_ends_of_the_pause,
    test_music_is_under_speech_by_the_target_in_every_passage,
    test_narration_is_never_over_black,
    test_natural_sound_is_heard_in_the_pause_over_the_music,
    test_the_original_is_untouched,
    test_the_pause_is_exact_on_every_track_and_music_runs_on,
    test_the_place_is_seen_in_the_pause,
)

__all__ = [  # collected here once more, with the fixtures of this file
    "test_clips_are_where_the_engine_plays_them",
    "test_each_shot_shows_the_source_frames_that_were_planned",
    "test_every_jump_cut_shows_a_cutaway_never_the_face",
    "test_music_has_no_hole_at_the_ends_of_the_pause",
    "test_music_is_under_speech_by_the_target_in_every_passage",
    "test_narration_is_never_over_black",
    "test_natural_sound_is_heard_in_the_pause_over_the_music",
    "test_the_original_is_untouched",
    "test_the_pause_is_exact_on_every_track_and_music_runs_on",
    "test_the_place_is_seen_in_the_pause",
]

pytestmark = pytest.mark.usefixtures("requires_melt")


@pytest.fixture(scope="module")
def done(passed: Callable[[str], Pass]) -> Done:
    return Done(passed(DOCUMENTS[2]))


@pytest.fixture(scope="module", params=[DOCUMENTS[0], DOCUMENTS[2]])
def sounding(request: pytest.FixtureRequest, passed: Callable[[str], Pass]) -> Done:
    return Done(passed(request.param))


def test_no_frame_is_black(passed: Callable[[str], Pass]) -> None:
    no_black(passed, DOCUMENTS[2])
