"""Music under speech: passages, depth, and the curve against what it must do at every frame."""

from __future__ import annotations

from itertools import pairwise
from math import inf

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mltassist.frames import Span
from mltassist.music.planner import (
    ClipBeneath,
    Hold,
    Passage,
    Ramps,
    curve_keys,
    depth_db,
    excess_db,
    holds_of,
    passages,
    plan_duck,
    sounding_parts,
    split_passage,
    up_again,
)
from mltassist.timeline.edits import SetLevelCurve

RAMPS = Ramps(down=12, up=25)


def played(keys: tuple[tuple[int, float], ...], clip: Span) -> dict[int, float]:
    """Level at the end of each frame, straight in dB between keys."""
    frames = range(clip.start, clip.end)
    levels = np.interp(frames, [key[0] for key in keys], [key[1] for key in keys])
    return dict(zip(frames, levels.tolist(), strict=True))


def passage(start: int, end: int, *, speech: float = -23.0, music: float = -20.0) -> Passage:
    return Passage(Span(start, end), speech, music, 15.0)


def held(found: list[Passage]) -> list[Hold]:
    return [Hold(one.span, depth_db(one, 40.0), number) for number, one in enumerate(found)]


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
    found = Passage(Span(0, 10), -23.0, -29.0, separation, natural, foreground_db=-23.0, beneath_db=-26.0)
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
    assert levels[210] < levels[211] == pytest.approx(-6.0)


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
    edits = plan_duck([ClipBeneath(3, clip)], held(found), ramps=ramps)
    for curve in edits:
        if isinstance(curve, SetLevelCurve):
            levels = played(curve.keys, clip)
            for passage_ in found:
                # The frame before it counts: its level is reached at its end, where the first word begins.
                span = passage_.span.grown(1, 0)
                inside = [levels[frame] for frame in range(span.start, span.end)]
                assert inside == pytest.approx([depth_db(passage_, 40.0)] * span.length, abs=2e-3)
    assert len(edits) == any(depth_db(passage_, 40.0) < 0 for passage_ in found)


def test_a_curve_is_planned_only_for_clips_that_a_passage_or_its_ramps_touch() -> None:
    clips = [ClipBeneath(3, Span(0, 180)), ClipBeneath(3, Span(180, 300)), ClipBeneath(4, Span(500, 600))]
    found = [passage(200, 250), passage(520, 540, music=-60.0)]
    (curve,) = plan_duck(clips, held(found), ramps=RAMPS)
    assert isinstance(curve, SetLevelCurve)
    assert (curve.track, curve.at) == (3, 180)
    assert curve.reason == "music under 1 passage, down to -18.0 dB"


def test_a_ramp_that_reaches_back_into_an_earlier_clip_is_played_there() -> None:
    before, after = plan_duck(
        [ClipBeneath(3, Span(0, 195)), ClipBeneath(3, Span(195, 300))],
        held([passage(200, 250)]),
        ramps=RAMPS,
    )
    assert isinstance(before, SetLevelCurve)
    assert isinstance(after, SetLevelCurve)
    assert before.keys[-1] == (194, -10.5)
    assert after.keys[0] == (195, -12.0)


A, B, WIND = (0, 3, "a.wav"), (0, 3, "b.wav"), (1, 5, "wind.wav")


def test_a_passage_is_divided_where_what_lies_beneath_changes() -> None:
    beneath = [(Span(0, 150), A), (Span(150, 400), B), (Span(200, 260), WIND), (Span(700, 800), A)]
    found = split_passage(Span(100, 500), beneath, 25)
    assert [(one.span, set(one.beneath)) for one in found] == [
        (Span(100, 150), {A}),
        (Span(150, 200), {B}),
        (Span(200, 260), {B, WIND}),
        (Span(260, 400), {B}),
        (Span(400, 500), set()),
    ]
    assert [[one.span.start for one in part] for part in sounding_parts(0, found)] == [[100, 150, 200, 260]]
    assert [[one.span.start for one in part] for part in sounding_parts(1, found)] == [[200]]


@given(
    length=st.integers(1, 300),
    shortest=st.integers(1, 60),
    beneath=st.lists(
        st.tuples(
            st.builds(lambda at, n: Span(at, at + n), st.integers(-50, 300), st.integers(1, 200)),
            st.sampled_from([A, B, WIND]),
        ),
        max_size=8,
    ),
)
def test_stretches_are_the_passage_and_none_is_too_short_and_no_sound_is_lost(
    length: int, shortest: int, beneath: list[tuple[Span, tuple[int, int, str]]]
) -> None:
    found = split_passage(Span(0, length), beneath, shortest)
    assert [one.span.start for one in found] == [0, *(one.span.end for one in found[:-1])]
    assert found[-1].span.end == length
    assert len(found) == 1 or all(one.span.length >= shortest for one in found)
    for span, name in beneath:
        assert all(name in one.beneath for one in found if one.span.overlaps(span))


def test_a_clip_goes_by_its_own_stretches_of_a_passage_and_by_all_where_it_has_none() -> None:
    holds = [
        Hold(Span(0, 100), -20.0, 0, frozenset({A})),
        Hold(Span(100, 200), -5.0, 0, frozenset({B})),
    ]
    own = holds_of(ClipBeneath(3, Span(100, 300), "b.wav"), holds)
    assert own == ((Span(100, 200), -5.0),)
    (curve,) = plan_duck([ClipBeneath(3, Span(100, 300), "b.wav")], holds, ramps=RAMPS)
    assert isinstance(curve, SetLevelCurve)
    assert curve.keys[0] == (100, -5.0)  # it is no way up from the level of the clip before it
    assert holds_of(ClipBeneath(4, Span(210, 300), "c.wav"), holds) == tuple(
        (hold.span, hold.depth_db) for hold in holds
    )


def test_three_that_keep_twenty_each_are_five_too_loud_together() -> None:
    assert excess_db(-20.0, [-40.05] * 3) == pytest.approx(4.77, abs=0.01)
    assert excess_db(-20.0, [-50.0, -50.0]) == excess_db(-20.0, []) == excess_db(-inf, [-9.0]) == 0


def test_music_is_up_again_where_the_next_passage_lets_it() -> None:
    near, far = Hold(Span(230, 300), -9.0, 1), Hold(Span(240, 300), -9.0, 1)
    first = Hold(Span(100, 200), -18.0, 0)
    assert up_again(first.span, [first, near], RAMPS) is None
    assert up_again(first.span, [first, far], RAMPS) == 224
    assert up_again(first.span, [first, Hold(Span(210, 300), 0.0, 1)], RAMPS) == 224
    levels = played(curve_keys(Span(0, 400), [(first.span, -18.0), (far.span, -9.0)], RAMPS), Span(0, 400))
    assert levels[223] < levels[224] == pytest.approx(0.0)
