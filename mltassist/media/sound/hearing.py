"""What is heard on a timeline: where someone speaks, and how loud its parts are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.frames import Rate, Span, joined
from mltassist.media.cache import Analysis, remembered
from mltassist.media.sound.decode import MIX_HZ, read_sound
from mltassist.media.sound.meter import Meter
from mltassist.media.sound.mix import Report, stem_blocks
from mltassist.media.sound.speech import (
    FINE,
    HOP,
    RATE_HZ,
    ModelDetector,
    SpeechDetector,
    fine_levels_db,
    sharpened,
    speech_spans,
)
from mltassist.timeline.model import Clip, Track

_WARM_UP_S = Fraction(1, 2)
"""Sound before a clip that the detector hears first, so that a word at its very start is found."""
_BLOCK = Fraction(2, 5)
_SPOKEN = Analysis("speech", 4)
PART, _LEAD = 750 * 2560, 33 * 2560
"""Samples listened to at a time (120 s), and heard around them as well (5.3 s): whole blocks of the detector
and of levels. The noise floor of the energy detector looks 5 s to each side, so its parts are exact."""
LEVEL_LEAD = 13 * 2560
"""The same (2 s) where only the levels need it."""


def speech_on_timeline(
    clips: Iterable[tuple[Track, Clip]],
    rate: Rate,
    detector: SpeechDetector,
    *,
    on_missing: Report | None = None,
) -> tuple[Span, ...]:
    """Stretches of the timeline, in frames, in which one of these clips speaks.

    Frames in which a word begins or ends count as speech. Files that cannot be read hold none;
    `on_missing` is told.
    """
    found: list[Span] = []
    for _, clip in clips:
        if clip.source.path is None or not clip.plain_speed:
            continue
        try:
            spoken = _speech_in(clip, clip.source.path, rate, detector)
        except MediaError as error:
            if on_missing is not None:
                on_missing(clip.source.path, str(error))
            continue
        for span in spoken:
            frames = Span(
                rate.frame_at_sample(span.start, RATE_HZ), rate.frame_at_sample(span.end - 1, RATE_HZ) + 1
            )
            found.append(frames.shifted(clip.start).shared(clip.span))
    return joined(found)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Part of a file's sound, in samples at 16 kHz; `changed` tells one state of the file from another."""

    path: Path
    changed: int
    start: int
    count: int
    stream: int


_heard: dict[tuple[_Stretch, str], tuple[Span, ...]] = {}
"""What each detector has heard where: the parts of one pass ask for the same stretches again."""


def _speech_in(clip: Clip, path: Path, rate: Rate, detector: SpeechDetector) -> tuple[Span, ...]:
    """Spans of speech in samples at 16 kHz from the start of a clip; remembered between runs."""
    start = rate.samples(clip.source_in, RATE_HZ)
    count = rate.samples(clip.source_in + clip.length, RATE_HZ) - start
    changed = path.stat().st_mtime_ns if path.exists() else 0
    stretch = _Stretch(path, changed, start, count, clip.sound_stream)
    if (stretch, detector.name) not in _heard:
        parameters = (
            ("start", start),
            ("count", count),
            ("stream", clip.sound_stream),
            ("detector", detector.name),
        )
        found = remembered(
            path, Analysis(_SPOKEN.name, _SPOKEN.version, parameters), lambda: _listened(stretch, detector)
        )
        _heard[stretch, detector.name] = tuple(Span(int(a), int(b)) for a, b in found["spans"])
    return _heard[stretch, detector.name]


def _listened(stretch: _Stretch, detector: SpeechDetector) -> dict[str, NDArray[np.int64]]:
    """Speech in a stretch, listened to part by part."""
    warm_up = min(stretch.start, int(_WARM_UP_S * RATE_HZ))
    first, total = stretch.start - warm_up, stretch.count + warm_up
    # The model remembers all it heard, so it goes on from part to part; a lead would not do.
    model = detector if isinstance(detector, ModelDetector) else None
    lead = LEVEL_LEAD if model else _LEAD
    chances, levels = [], []
    for at in range(0, total, PART):
        before = min(at, lead)
        wanted = min(PART, total - at)
        after = min(lead, total - at - wanted)
        begin, count = first + at - before, before + wanted + after
        mono = read_sound(stretch.path, begin, count, rate_hz=RATE_HZ, stream=stretch.stream, mono=True)[0]
        if model:
            chances.append(model.probability(mono[before : before + wanted], goes_on=at > 0))
        else:  # what lies around is heard too, so that the detector knows the room
            chances.append(detector.probability(mono)[before // HOP :][: -(-wanted // HOP)])
        levels.append(fine_levels_db(mono)[before // FINE :][: -(-wanted // FINE)])
    chance = np.concatenate([np.zeros(0, np.float32), *chances])
    spans = sharpened(speech_spans(chance), np.concatenate([np.zeros(0), *levels]), total)
    inside = [span.shifted(-warm_up).shared(Span(0, stretch.count)) for span in spans]
    rows = [(span.start, span.end) for span in inside if span.length > 0]
    return {"spans": np.array(rows, dtype=np.int64).reshape(-1, 2)}


@dataclass(frozen=True, slots=True)
class Level:
    """How loud something is, -inf where it is silent.

    lufs: gated loudness (BS.1770); db: plain level, dBFS, the mean power of both channels.
    """

    lufs: float
    db: float


def passage_level(
    clips: Iterable[tuple[Track, Clip]],
    span: Span,
    rate: Rate,
    *,
    on_missing: Report | None = None,
) -> Level:
    """Loudness and plain level of these clips together over `span`.

    Loudness of spans shorter than the gating block of 400 ms is measured over their whole length.
    """
    meter = Meter()
    for part in stem_blocks(clips, span, rate, on_missing=on_missing):
        meter.add(part)
    if rate.samples(span.end, MIX_HZ) - rate.samples(span.start, MIX_HZ) < int(_BLOCK * MIX_HZ):
        return Level(meter.mean_lufs, meter.mean_db)
    return Level(meter.read().integrated_lufs, meter.mean_db)
