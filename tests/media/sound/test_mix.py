"""The mix against the engine: amplitudes measured on melt 7.12's float output, and melt itself."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from mltassist.frames import Rate, Span
from mltassist.hosts.reading import overlaid
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.mix import curve_gain, stem
from mltassist.timeline.model import (
    Clip,
    Dissolve,
    Gap,
    LevelCurve,
    LevelKey,
    Source,
    SourceKind,
    Track,
    TrackKind,
)
from tests import referee

PAL, NTSC = Rate(25), Rate(30000, 1001)
FRAME = 1920
ALL = Track(1, TrackKind.SOUND, "A1")


def curve(*keys: tuple[int, float], hold: bool = False, span: Span | None = None) -> LevelCurve:
    return LevelCurve(tuple(LevelKey(frame, gain, hold) for frame, gain in keys), span)


def ends(gain: NDArray[np.float32]) -> list[tuple[float, float]]:
    """For each frame the amplitude of its first and last sample, full being 0.25."""
    return [(float(gain[i]) / 4, float(gain[i + FRAME - 1]) / 4) for i in range(0, len(gain), FRAME)]


def decibels(gain: NDArray[np.float32], frame: int) -> float:
    return 20 * float(np.log10(gain[(frame + 1) * FRAME - 1]))


# Measured against melt 7.12: an entry of 200 frames of 0.25, start and end of its first and last frames.
FADES = [
    (
        LevelCurve((LevelKey(0, float("-inf")), LevelKey(1, 0.0)), linear_amplitude=True),
        [(0.0, 0.0), (0.0, 0.25), (0.25, 0.25)],
        [(0.25, 0.25)] * 3,
    ),
    (
        LevelCurve((LevelKey(198, 0.0), LevelKey(199, float("-inf"))), linear_amplitude=True),
        [(0.25, 0.25)] * 3,
        [(0.25, 0.25), (0.25, 0.25), (0.25, 0.0)],
    ),
    (
        curve((0, -60), (1, 0), (198, 0), (199, -60)),
        [(0.0003, 0.0003), (0.0003, 0.25), (0.25, 0.25)],
        [(0.25, 0.25), (0.25, 0.25), (0.25, 0.0003)],
    ),
    (
        curve((0, -60), (2, 0), (197, 0), (199, -60)),
        [(0.0003, 0.0003), (0.0003, 0.008), (0.008, 0.25)],
        [(0.25, 0.25), (0.25, 0.008), (0.008, 0.0003)],
    ),
    (
        curve((0, -60), (1, -6), (2, 0), (197, 0), (198, -6), (199, -60), hold=True),
        [(0.0003, 0.0003), (0.0003, 0.125), (0.125, 0.25)],
        [(0.25, 0.25), (0.25, 0.125), (0.125, 0.0003)],
    ),
]


@pytest.mark.parametrize(("fade", "first", "last"), FADES)
def test_short_fades_have_the_amplitudes_measured_against_melt(
    fade: LevelCurve, first: list[tuple[float, float]], last: list[tuple[float, float]]
) -> None:
    found = ends(curve_gain(fade, Span(0, 200), PAL))
    assert np.allclose(found[:3], first, atol=6e-4)
    assert np.allclose(found[-3:], last, atol=6e-4)


def test_between_keys_the_level_is_straight_in_decibels_per_frame() -> None:
    """Measured against melt 7.12: 0=-40;100=0 gives -30.0, -20.0 and -10.0 dB at frames 25, 50 and 75."""
    gain = curve_gain(curve((0, -40), (100, 0)), Span(0, 120), PAL)
    assert [round(decibels(gain, frame), 2) for frame in (0, 25, 50, 75, 100, 110)] == [
        -40,
        -30,
        -20,
        -10,
        0,
        0,
    ]


def test_a_hold_step_takes_the_whole_of_its_frame() -> None:
    """Measured against melt 7.12: a step from -20 dB at frame 50 runs from 0.025 to 0.2499."""
    gain = curve_gain(curve((0, -20), (50, 0), hold=True), Span(0, 60), PAL)
    assert ends(gain)[49:52] == [
        pytest.approx((0.025, 0.025), abs=1e-6),
        pytest.approx((0.025, 0.2499), abs=2e-4),
        pytest.approx((0.25, 0.25), abs=1e-6),
    ]
    inside = np.diff(gain[50 * FRAME : 51 * FRAME].astype(np.float64))
    assert np.allclose(inside, inside[0], atol=1e-6), "a straight line of amplitude within the frame"


def test_keys_hold_before_the_first_and_after_the_last() -> None:
    gain = curve_gain(curve((20, -6), (30, -12)), Span(0, 60), PAL)
    assert decibels(gain, 0) == pytest.approx(-6, abs=1e-4)
    assert decibels(gain, 59) == pytest.approx(-12, abs=1e-4)


def test_a_filter_is_silent_about_frames_outside_its_span_and_begins_without_a_ramp() -> None:
    """Measured against melt 7.12: outside in and out 0 dB, the first active frame at its own value."""
    gain = curve_gain(curve((0, -20), span=Span(30, 170)), Span(0, 200), PAL)
    found = ends(gain)
    assert found[29] == pytest.approx((0.25, 0.25))
    assert found[30] == pytest.approx((0.025, 0.025))
    assert found[169] == pytest.approx((0.025, 0.025))
    assert found[170] == pytest.approx((0.25, 0.25))


def test_a_part_of_a_clip_has_the_gain_that_the_whole_has_there() -> None:
    moving = curve((0, -40), (37, 0), (80, -7))
    for rate in (PAL, NTSC):
        whole = curve_gain(moving, Span(0, 100), rate)
        part = curve_gain(moving, Span(20, 60), rate)
        first, last = rate.samples(20, MIX_HZ), rate.samples(60, MIX_HZ)
        assert np.array_equal(part, whole[first:last])


def impulses(folder: Path, *frames: int, rate: Rate, channels: int = 2) -> Source:
    """A file with one sample of 0.5 at the first sample of each of these frames."""
    sound = np.zeros((rate.samples(300, MIX_HZ), channels), np.float32)
    sound[[rate.samples(frame, MIX_HZ) for frame in frames]] = 0.5
    path = folder / f"impulses-{channels}.wav"
    soundfile.write(path, sound, MIX_HZ, subtype="FLOAT")
    return Source(str(path), SourceKind.FILE, path, 300)


@pytest.mark.parametrize("rate", [PAL, NTSC], ids=["25", "29.97"])
def test_a_clip_sounds_at_its_sample(tmp_path: Path, rate: Rate) -> None:
    source = impulses(tmp_path, 40, rate=rate)
    for start, source_in, span in (
        (0, 0, Span(0, 100)),
        (500, 0, Span(500, 600)),
        (2698, 40, Span(2600, 2800)),
    ):
        clip = Clip(start, 100, source, source_in)
        heard = stem([(ALL, clip)], span, rate)
        assert heard.shape == (2, rate.samples(span.end, MIX_HZ) - rate.samples(span.start, MIX_HZ))
        assert heard.dtype == np.float32
        (place,) = np.flatnonzero(heard[0])
        expected = rate.samples(start, MIX_HZ) + rate.samples(40, MIX_HZ) - rate.samples(source_in, MIX_HZ)
        assert place + rate.samples(span.start, MIX_HZ) == expected
        assert heard[0, place] == 0.5


def test_only_the_frames_of_the_clip_are_heard(tmp_path: Path) -> None:
    source = impulses(tmp_path, 9, 10, 29, 30, rate=PAL)
    heard = stem([(ALL, Clip(100, 20, source, 10))], Span(90, 130), PAL)
    assert np.flatnonzero(heard[0]).tolist() == [10 * FRAME, 29 * FRAME]


def test_clips_add_up_and_all_their_gains_and_their_tracks_multiply(tmp_path: Path) -> None:
    clip = Clip(0, 100, impulses(tmp_path, 40, rate=PAL), 0, levels=(curve((0, -6)), curve((0, -4))))
    quiet = replace(ALL, levels=(curve((0, -10)),))
    heard = stem([(ALL, clip), (quiet, clip)], Span(0, 100), PAL)
    assert heard[0, 40 * FRAME] == pytest.approx(0.5 * (10**-0.5 + 10**-1), rel=1e-5)


def test_mono_plays_three_decibels_lower_on_both_sides(tmp_path: Path) -> None:
    """Measured against melt 7.12: 0.25 comes out as 0.17678."""
    clip = Clip(0, 100, impulses(tmp_path, 40, rate=PAL, channels=1), 0)
    heard = stem([(ALL, clip)], Span(0, 100), PAL)
    assert heard[:, 40 * FRAME] == pytest.approx([0.35355, 0.35355], abs=1e-5)


def test_a_track_level_runs_on_from_clip_to_clip_but_not_over_a_gap(tmp_path: Path) -> None:
    """Measured against melt 7.12: a filter of the track ramps across a cut, one of the clip begins anew."""
    path = tmp_path / "flat.wav"
    soundfile.write(path, np.full((200 * FRAME, 2), 0.25, np.float32), MIX_HZ, subtype="FLOAT")
    clip = Clip(50, 100, Source(str(path), SourceKind.FILE, path, 200), 0)
    step = curve((0, -20), (50, 0), hold=True)
    before = replace(clip, start=0, length=50)
    on_track = stem([(replace(ALL, items=(before, clip), levels=(step,)), clip)], Span(50, 51), PAL)
    assert on_track[0, 0] == pytest.approx(0.025, abs=2e-4)
    after_gap = stem([(replace(ALL, items=(Gap(0, 50), clip), levels=(step,)), clip)], Span(50, 51), PAL)
    assert after_gap[0, 0] == pytest.approx(0.25, abs=1e-6)
    on_clip = stem([(ALL, replace(clip, levels=(step,)))], Span(50, 51), PAL)
    assert on_clip[0, 0] == pytest.approx(0.25, abs=1e-6)


def test_a_level_curve_runs_on_through_a_dissolve_that_cuts_its_clip_in_the_model(tmp_path: Path) -> None:
    """The reference is the clip whole, which other tests compare with what the engine plays."""
    sources = []
    for name, value in (("one", 0.25), ("two", 0.125)):
        path = tmp_path / f"{name}.wav"
        soundfile.write(path, np.full((200 * FRAME, 2), value, np.float32), MIX_HZ, subtype="FLOAT")
        sources.append(Source(str(path), SourceKind.FILE, path, 200))
    swing = curve((0, -20), (39, -10), (40, -30), (59, -4), (60, -24), (99, 0))
    out, into = (
        Clip(start, 60, source, 5, levels=(swing,)) for start, source in zip((0, 40), sources, strict=True)
    )
    items = tuple(overlaid([[out], [into]]))
    first, dissolve, rest = items
    assert isinstance(first, Clip)
    assert isinstance(dissolve, Dissolve)
    assert isinstance(rest, Clip)
    track = replace(ALL, items=items)
    # Of the fade over twenty frames the first stands still, as the engine has it.
    rise = np.maximum(0, np.arange(1, 20 * FRAME + 1) / FRAME - 1) / 20
    for part, whole, fade in (
        (first, out, 1.0),
        (dissolve.outgoing, out, 1 - rise),
        (dissolve.incoming, into, rise),
        (rest, into, 1.0),
    ):
        heard = stem([(track, part)], part.span, PAL)
        assert heard == pytest.approx(stem([(ALL, whole)], part.span, PAL) * fade, abs=1e-6)
    alone = stem([(ALL, rest)], rest.span, PAL)
    assert not np.array_equal(alone, stem([(track, rest)], rest.span, PAL))
    # Another moment of the same file is no rest of it: there the curve begins without a ramp.
    other = replace(rest, source_in=rest.source_in + 1)
    heard = stem([(replace(track, items=(first, dissolve, other)), other)], rest.span, PAL)
    assert np.array_equal(heard, alone)


def test_files_that_are_not_there_are_silent_and_told(tmp_path: Path) -> None:
    gone = tmp_path / "gone.wav"
    told: list[tuple[Path, str]] = []
    clip = Clip(0, 10, Source(str(gone), SourceKind.FILE, gone), 0)
    heard = stem([(ALL, clip)], Span(0, 10), PAL, on_missing=lambda path, why: told.append((path, why)))
    assert not heard.any()
    assert [path for path, _ in told] == [gone]
    assert "not there" in told[0][1]


def test_other_speeds_colours_and_clips_elsewhere_are_not_heard(tmp_path: Path) -> None:
    clip = Clip(0, 100, impulses(tmp_path, 40, rate=PAL), 0)
    colour = replace(clip, source=Source("black", SourceKind.COLOUR))
    others = [replace(clip, speed=Fraction(2)), colour, replace(clip, start=500)]
    assert not stem([(ALL, other) for other in others], Span(0, 100), PAL).any()
    assert stem([], Span(5, 5), PAL).shape == (2, 0)


@pytest.mark.usefixtures("requires_melt")
@pytest.mark.parametrize("rate", [PAL, NTSC], ids=["25", "29.97"])
def test_the_mix_of_a_document_is_what_melt_renders(tmp_path: Path, rate: Rate) -> None:
    """The reference is melt: two entries, one with a moving level, on a track whose level moves too.

    The file is 16 bit: in one of 32 bit melt 7.12 lands 512 samples early after a seek.
    """
    noise = np.random.default_rng(3).uniform(-0.4, 0.4, (rate.samples(150, MIX_HZ), 2)).astype(np.float32)
    path = tmp_path / "noise.wav"
    soundfile.write(path, noise, MIX_HZ, subtype="PCM_16")
    document = tmp_path / "film.mlt"
    document.write_text(f"""<mlt>
 <profile description="p" width="64" height="36" progressive="1" sample_aspect_num="1" sample_aspect_den="1"
  display_aspect_num="16" display_aspect_den="9" frame_rate_num="{rate.numerator}"
  frame_rate_den="{rate.denominator}" colorspace="709"/>
 <producer id="n"><property name="resource">{path}</property><property name="length">150</property></producer>
 <playlist id="p">
  <filter><property name="mlt_service">volume</property><property name="level">0=-3;90=-9</property></filter>
  <blank length="7"/>
  <entry producer="n" in="20" out="59"><filter in="20" out="59">
   <property name="mlt_service">volume</property><property name="level">5=0;17=-12;30=-2</property>
  </filter></entry>
  <entry producer="n" in="101" out="140"/>
 </playlist>
 <tractor id="t"><track producer="p"/></tractor>
</mlt>""")
    source = Source(str(path), SourceKind.FILE, path, 150)
    ducked = curve((12, 0), (24, -12), (37, -2), span=Span(7, 47))
    one, two = Clip(7, 40, source, 20, levels=(ducked,)), Clip(47, 40, source, 101)
    track = replace(ALL, items=(Gap(0, 7), one, two), levels=(curve((0, -3), (90, -9)),))
    clips = [(track, one), (track, two)]
    ours, theirs = stem(clips, Span(0, 87), rate), referee.sound(document)
    assert theirs.shape == ours.shape
    assert float(np.abs(ours - theirs).max()) < 1e-4
