"""Clips at another speed against what melt renders of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

import mltassist
from mltassist.frames import Rate, Span
from mltassist.media.sound.atspeed import is_heard, read_clip, unheard_because
from mltassist.media.sound.decode import MIX_HZ
from mltassist.music.delivery import whole_film
from mltassist.rushes.find import begin, find
from mltassist.timeline.model import Clip, Timeline
from tests import referee
from tests.media.sound.mixes import film_mix
from tests.media.sound.test_mix_played import BLOCK, lag, levels_db, recording

LATE = 700
"""Samples (15 ms) by which the engine's resampler may come late; measured: 16 to 32, after a seek to 528."""


def film(folder: Path, *entries: tuple[str, int, int], pitch: int = 0, path: Path | None = None) -> Path:
    """One playlist of entries, each with speed, first frame and length, with a second of nothing between."""
    path = path or recording(folder, MIX_HZ, 2, 1)
    parts, spots = [], []
    for number, (speed, first, length) in enumerate(entries):
        whole = int(300 / abs(float(speed)))
        parts.append(
            f'<producer id="p{number}" in="0" out="{whole - 1}"><property name="length">{whole}</property>'
            f'<property name="resource">{speed}:{path}</property>'
            f'<property name="mlt_service">timewarp</property><property name="warp_speed">{speed}</property>'
            f'<property name="warp_resource">{path}</property><property name="warp_pitch">{pitch}</property>'
            "</producer>"
        )
        spots.append(f'<entry producer="p{number}" in="{first}" out="{first + length - 1}"/>')
    document = folder / "speeds.mlt"
    document.write_text(
        '<mlt LC_NUMERIC="C"><profile description="p" width="64" height="36" progressive="1"'
        ' sample_aspect_num="1" sample_aspect_den="1" display_aspect_num="16" display_aspect_den="9"'
        f' frame_rate_num="25" frame_rate_den="1" colorspace="709"/>{"".join(parts)}<playlist id="t">'
        + '<blank length="25"/>'.join(spots)
        + '</playlist><tractor id="film"><track producer="t"/></tractor></mlt>',
        encoding="utf-8",
    )
    return document


def clips(timeline: Timeline) -> list[Clip]:
    return [clip for track in timeline.tracks for clip in track.clips()]


@pytest.mark.usefixtures("requires_melt")
def test_every_speed_sounds_as_the_engine_plays_it(tmp_path: Path) -> None:
    speeds = ("2", "0.5", "1.5", "0.8", "1.25", "0.7", "0.593400", "1.1")
    entries = [
        (speed, first, 50) for speed, first in zip(speeds, (0, 100, 33, 123, 7, 50, 61, 90), strict=True)
    ]
    path = film(tmp_path, *entries)
    timeline = mltassist.open(path).timeline
    ours = film_mix(timeline, Span(0, timeline.length))
    theirs = referee.sound(path)
    for (speed, *_), clip in zip(entries, clips(timeline), strict=True):
        first, last = (timeline.rate.samples(frame, MIX_HZ) for frame in (clip.start, clip.span.end))
        assert last - first == 96000
        for at in range(first + BLOCK, last - 2 * BLOCK, BLOCK):
            mine = ours[:, at : at + BLOCK]
            # After a seek the delay changes for a second or two at speeds over 1.
            late = lag(mine[0], theirs[0, at : at + BLOCK])
            assert 0 <= late <= LATE, speed
            engine = theirs[:, at + late : at + late + BLOCK]
            assert levels_db(mine) == pytest.approx(levels_db(engine), abs=0.1), (speed, at - first)


def test_what_is_left_out_of_the_figures_is_named_with_its_place(tmp_path: Path) -> None:
    timeline = mltassist.open(film(tmp_path, ("1.5", 0, 40), ("-1", 10, 40))).timeline
    findings = find(timeline, begin(timeline))
    assert whole_film(findings).meter.read().integrated_lufs > -60
    (note,) = (note for note in findings.notes if "left out" in note.text)
    assert (note.at, note.needs_editor) == (65, True)
    assert "take-48000-2-1" in note.text
    assert "it plays backward" in note.text


def test_parts_of_a_clip_meet_without_a_step(tmp_path: Path) -> None:
    (clip,) = clips(mltassist.open(film(tmp_path, ("0.593400", 61, 120))).timeline)
    rate = Rate(30000, 1001)
    whole = read_clip(clip, Span(0, 120), rate, MIX_HZ)
    parts = [read_clip(clip, span, rate, MIX_HZ) for span in (Span(0, 37), Span(37, 101), Span(101, 120))]
    assert np.abs(np.concatenate(parts, axis=1) - whole).max() < 1e-6


def test_a_tone_goes_with_the_speed(tmp_path: Path) -> None:
    tone = tmp_path / "tone.wav"
    soundfile.write(tone, 0.4 * np.sin(2 * np.pi * 1000 * np.arange(12 * MIX_HZ) / MIX_HZ), MIX_HZ)
    timeline = mltassist.open(film(tmp_path, ("1.5", 0, 50), path=tone)).timeline
    spectrum = np.abs(np.fft.rfft(film_mix(timeline, Span(10, 35))[0]))
    assert int(np.argmax(spectrum)) == 1500


@pytest.mark.parametrize(
    ("speed", "pitch", "why"),
    [
        ("-1", 0, "backward"),
        ("2.5", 0, "2.5 times"),
        ("0.25", 0, "0.25 times"),
        ("1.5", 1, "pitch is kept"),
    ],
)
def test_other_speeds_are_silent_and_the_reason_is_told(
    tmp_path: Path, speed: str, pitch: int, why: str
) -> None:
    timeline = mltassist.open(film(tmp_path, (speed, 10, 40), pitch=pitch)).timeline
    (clip,) = clips(timeline)
    assert not is_heard(clip)
    assert why in unheard_because(clip)
    assert not film_mix(timeline, Span(0, 40)).any()
    with pytest.raises(ValueError, match="cannot be computed"):
        read_clip(clip, Span(0, 40), timeline.rate, MIX_HZ)
