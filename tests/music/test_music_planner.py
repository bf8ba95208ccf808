"""Music under speech: passages, depth, and the curve against what it must do at every frame."""

from __future__ import annotations

from itertools import pairwise
from math import inf

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mltassist.frames import Span
from mltassist.music.planner import MusicClip, Passage, Ramps, curve_keys, depth_db, passages, plan_duck
from mltassist.timeline.edits import ClearOurs, SetLevelCurve

RAMPS = Ramps(down=12, up=25)


def played(keys: tuple[tuple[int, float], ...], clip: Span) -> dict[int, float]:
    """Level at the end of each frame, straight in dB between keys."""
    frames = range(clip.start, clip.end)
    levels = np.interp(frames, [key[0] for key in keys], [key[1] for key in keys])
    return dict(zip(frames, levels.tolist(), strict=True))


def passage(start: int, end: int, *, speech: float = -23.0, music: float = -20.0) -> Passage:
    return Passage(Span(start, end), speech, music, 15.0)


def test_gaps_shorter_than_the_bridge_are_closed_and_others_are_not() -> None:
    words = [Span(0, 100), Span(149, 200), Span(250, 300)]
    assert passages(words, 50, Ramps(1, 1)) == (Span(0, 200), Span(250, 300))


def test_a_gap_in_which_music_cannot_come_up_and_down_is_closed() -> None:
    assert passages([Span(0, 100), Span(137, 200)], 10, RAMPS) == (Span(0, 200),)
    assert passages([Span(0, 100), Span(138, 200)], 10, RAMPS) == (Span(0, 100), Span(138, 200))


@pytest.mark.parametrize(
    ("speech", "music", "expected"),
    [(-23.0, -20.0, -18.0), (-23.0, -38.0, 0.0), (-23.0, -50.0, 0.0), (-23.0, 20.0, -40.0)],
)
def test_depth_makes_up_what_the_separation_lacks(speech: float, music: float, expected: float) -> None:
    assert depth_db(passage(0, 10, speech=speech, music=music), 40.0) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("separation", "natural", "expected"),
    [(20.0, False, -17.0), (24.0, False, -18.0), (19.9, False, -13.9), (20.0, True, -14.0)],
)
def test_twenty_is_kept_in_plain_level_too(separation: float, natural: bool, expected: float) -> None:
    """WCAG SC 1.4.7 counts in dB: deep music, 3 dB stronger as plain level, goes down by 3 dB more."""
    found = Passage(Span(0, 10), -23.0, -29.0, separation, natural, foreground_db=-23.0, music_db=-26.0)
    assert depth_db(found, 40.0) == pytest.approx(expected, abs=0.1)


def test_silence_asks_for_no_depth() -> None:
    assert depth_db(passage(0, 10, music=-inf), 40.0) == 0.0
    assert depth_db(passage(0, 10, speech=-inf), 40.0) == 0.0


def test_the_ramp_down_is_complete_at_the_frame_before_the_first_word() -> None:
    keys = curve_keys(Span(0, 1000), [(Span(200, 400), -18.0)], RAMPS)
    assert keys == ((0, 0.0), (187, 0.0), (199, -18.0), (399, -18.0), (424, 0.0), (999, 0.0))


def test_between_close_holds_music_goes_straight_from_level_to_level() -> None:
    clip = Span(0, 1000)
    holds = [(Span(200, 300), -10.0), (Span(330, 400), -20.0)]
    keys = curve_keys(clip, holds, RAMPS)
    levels = played(keys, clip)
    assert all(levels[f] <= levels[f - 1] for f in range(299, 400))
    assert levels[329] == pytest.approx(-20.0)
    assert (299, -10.0) in keys


def test_between_far_holds_music_comes_all_the_way_up() -> None:
    clip = Span(0, 1000)
    levels = played(curve_keys(clip, [(Span(200, 300), -10.0), (Span(337, 400), -20.0)], RAMPS), clip)
    assert levels[324] == pytest.approx(0.0)
    levels = played(curve_keys(clip, [(Span(200, 300), -10.0), (Span(336, 400), -20.0)], RAMPS), clip)
    assert max(levels[f] for f in range(299, 400)) == pytest.approx(-10.0)


def test_a_lower_hold_that_touches_is_reached_before_it_begins() -> None:
    clip = Span(0, 600)
    levels = played(curve_keys(clip, [(Span(100, 200), -6.0), (Span(200, 300), -18.0)], RAMPS), clip)
    assert levels[199] == pytest.approx(-18.0)
    assert levels[187] == pytest.approx(-6.0)


def test_a_higher_hold_that_touches_is_risen_to_after_it_begins() -> None:
    clip = Span(0, 600)
    levels = played(curve_keys(clip, [(Span(100, 200), -18.0), (Span(200, 300), -6.0)], RAMPS), clip)
    assert levels[199] == pytest.approx(-18.0)
    assert levels[224] == pytest.approx(-6.0)


def test_a_clip_that_begins_or_ends_inside_a_passage_has_its_level_there() -> None:
    hold = [(Span(200, 400), -18.0)]
    assert curve_keys(Span(300, 600), hold, RAMPS)[0] == (300, -18.0)
    assert curve_keys(Span(0, 300), hold, RAMPS)[-1] == (299, -18.0)
    assert curve_keys(Span(250, 300), hold, RAMPS) == ((250, -18.0), (299, -18.0))
    assert curve_keys(Span(193, 194), hold, RAMPS) == ((193, -9.0),)


@st.composite
def holds(draw: st.DrawFn) -> list[tuple[Span, float]]:
    found = []
    at = draw(st.integers(0, 60))
    for _ in range(draw(st.integers(1, 6))):
        length = draw(st.integers(1, 80))
        found.append((Span(at, at + length), float(draw(st.integers(-30, -1)))))
        at += length + draw(st.sampled_from([0, 0, 1, 5, 20, 60, 100]))
    return found


@settings(max_examples=300, deadline=None)
@given(
    found=holds(),
    start=st.integers(0, 120),
    length=st.integers(1, 700),
    ramps=st.builds(Ramps, st.integers(1, 30), st.integers(1, 30)),
)
@example(found=[(Span(5, 10), -18.0), (Span(10, 11), -3.0)], start=0, length=99, ramps=Ramps(5, 5))
@example(
    found=[(Span(0, 1), -1.0), (Span(1, 2), -1.0), (Span(2, 3), -2.0)], start=0, length=2, ramps=Ramps(1, 1)
)
def test_music_never_rises_above_a_hold_and_moves_one_way_between_two(
    found: list[tuple[Span, float]], start: int, length: int, ramps: Ramps
) -> None:
    clip = Span(start, start + length)
    keys = curve_keys(clip, found, ramps)
    assert keys[0][0] == clip.start
    assert keys[-1][0] == clip.end - 1
    assert all(one[0] < other[0] for one, other in pairwise(keys))
    levels = played(keys, clip)
    assert all(-30.0 <= level <= 0.0 for level in levels.values())
    for span, depth in found:
        # The engine moves within a frame from the value of the frame before to the frame's own.
        for frame in range(span.start - 1, span.end):
            assert levels.get(frame, depth) <= depth + 2e-3, frame
    for (one, _), (other, _) in pairwise(found):
        between = [levels[f] for f in range(one.end - 1, other.start) if f in levels]
        steps = [later - earlier for earlier, later in pairwise(between)]
        signs = [step > 0 for step in steps if abs(step) > 2e-3]
        rises_then_falls = sum(a != b for a, b in pairwise(signs)) <= (signs[:1] == [True])
        assert rises_then_falls
        if other.start - one.end < ramps.up + ramps.down:
            assert len(set(signs)) <= 1


@settings(max_examples=200, deadline=None)
@given(
    gaps=st.lists(st.tuples(st.integers(1, 60), st.integers(0, 120)), min_size=1, max_size=12),
    bridge=st.integers(1, 60),
    ramps=st.builds(Ramps, st.integers(1, 30), st.integers(1, 40)),
    depths=st.lists(st.floats(-40, 30), min_size=12, max_size=12),
)
def test_no_curve_moves_inside_a_passage_whatever_the_gaps_in_speech(
    gaps: list[tuple[int, int]], bridge: int, ramps: Ramps, depths: list[float]
) -> None:
    at, speech = 50, []
    for length, gap in gaps:
        speech.append(Span(at, at + length))
        at += length + gap
    spoken = passages(speech, bridge, ramps)
    found = [Passage(span, -23.0, -38.0 - depth, 15.0) for span, depth in zip(spoken, depths, strict=False)]
    clip = Span(0, at + 100)
    edits = plan_duck([MusicClip(3, clip)], found, ramps=ramps, depth_limit_db=40.0)
    for curve in edits:
        if isinstance(curve, SetLevelCurve):
            levels = played(curve.keys, clip)
            for passage_ in found:
                # The frame before it counts: its level is reached at its end, where the first word begins.
                span = passage_.span.grown(1, 0)
                inside = [levels[frame] for frame in range(span.start, span.end)]
                assert inside == pytest.approx([depth_db(passage_, 40.0)] * span.length, abs=2e-3)
    assert len(edits) == 1 + any(depth_db(passage_, 40.0) < 0 for passage_ in found)


def test_a_curve_is_planned_only_for_clips_that_a_passage_or_its_ramps_touch() -> None:
    clips = [MusicClip(3, Span(0, 180)), MusicClip(3, Span(180, 300)), MusicClip(4, Span(500, 600))]
    found = [passage(200, 250), passage(520, 540, music=-60.0)]
    clear, *curves = plan_duck(clips, found, ramps=RAMPS, depth_limit_db=40.0)
    assert isinstance(clear, ClearOurs)
    (curve,) = curves
    assert isinstance(curve, SetLevelCurve)
    assert (curve.track, curve.at) == (3, 180)
    assert curve.reason == "music under 1 passage, down to -18.0 dB"


def test_a_ramp_that_reaches_back_into_an_earlier_clip_is_played_there() -> None:
    _, before, after = plan_duck(
        [MusicClip(3, Span(0, 195)), MusicClip(3, Span(195, 300))],
        [passage(200, 250)],
        ramps=RAMPS,
        depth_limit_db=40.0,
    )
    assert isinstance(before, SetLevelCurve)
    assert isinstance(after, SetLevelCurve)
    assert before.keys[-1] == (194, -10.5)
    assert after.keys[0] == (195, -12.0)
