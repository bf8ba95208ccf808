"""The sound of a timeline as the engine plays it: clips with their gains, summed at unity.

The rules are the engine's, measured on its output: mono plays at -3.01 dB on both channels; a level
curve is straight in dB from frame to frame, and within a frame the gain goes in a straight line of
amplitude from the value of the frame before to the frame's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.frames import Rate, Span
from mltassist.media.decode import as_stereo, read_sound
from mltassist.timeline.model import Clip, Gap, Item, LevelCurve, Timeline, Track

MIX_HZ = 48000
BLOCK_S = 30
Sound = NDArray[np.float32]
Report = Callable[[Path, str], None]
"""Told of every file that could not be heard, and why."""


def stem(
    clips: Iterable[tuple[Track, Clip]], span: Span, rate: Rate, *, on_missing: Report | None = None
) -> Sound:
    """Sum of these clips over the frames `span`: shape (2, samples) at 48 kHz, ±1.0 full scale.

    Files that cannot be read are silent; `on_missing` is told. Clips at other speeds than normal are
    not heard yet.
    """
    first = rate.samples(span.start, MIX_HZ)
    total = rate.samples(span.end, MIX_HZ) - first
    mix = np.zeros((2, max(0, total)), dtype=np.float32)
    for track, clip in clips:
        heard = clip.span.shared(span)
        if heard.length <= 0 or clip.source.path is None or not clip.plain_speed:
            continue
        begin, end = (rate.samples(frame, MIX_HZ) for frame in (heard.start, heard.end))
        offset = rate.samples(clip.source_in + heard.start - clip.start, MIX_HZ)
        try:
            sound = as_stereo(read_sound(clip.source.path, offset, end - begin, stream=clip.sound_stream))
        except MediaError as error:
            if on_missing is not None:
                on_missing(clip.source.path, str(error))
            continue
        for curve in clip.levels:
            sound = sound * curve_gain(curve, heard, rate, clip_start=clip.start)
        # A curve of the track runs on from clip to clip; after a gap it too begins without a ramp.
        runs_on = bool(track.levels) and any(item.span.end == clip.start for item in _sounding(track))
        for curve in track.levels:
            sound = sound * curve_gain(curve, heard, rate, clip_start=0 if runs_on else clip.start)
        mix[:, begin - first : end - first] += sound
    return mix


def stem_blocks(
    clips: Iterable[tuple[Track, Clip]], span: Span, rate: Rate, *, on_missing: Report | None = None
) -> Iterator[Sound]:
    """The same sum in parts of BLOCK_S seconds, one after the other: it never lies in memory whole."""
    held = sorted(clips, key=lambda pair: pair[1].start)
    block = rate.frames(BLOCK_S)
    for start in range(span.start, span.end, block):
        part = Span(start, min(span.end, start + block))
        yield stem([pair for pair in held if pair[1].span.overlaps(part)], part, rate, on_missing=on_missing)


def sounding(timeline: Timeline) -> tuple[tuple[Track, Clip], ...]:
    """Everything that is heard: the clips of all tracks that are not switched off."""
    return tuple(
        (track, clip)
        for track in timeline.tracks
        if track.has_sound and not track.muted
        for clip in track.clips()
        if clip.plays_sound
    )


def _sounding(track: Track) -> Iterator[Item]:
    return (item for item in track.items if not isinstance(item, Gap))


def gain_at(clip: Clip, track: Track, frame: int) -> float:
    """The factor at which a clip sounds at the end of a timeline frame, all its curves together."""
    factor = 1.0
    for curve in (*clip.levels, *track.levels):
        if curve.span is None or frame in curve.span:
            factor *= float(_frame_factors(curve, np.array([frame]))[0])
    return factor


def curve_gain(curve: LevelCurve, span: Span, rate: Rate, *, clip_start: int = 0) -> NDArray[np.float32]:
    """The factor of one curve for every sample of `span`, shape (samples,) at 48 kHz.

    The first frame of a filter has no ramp; `clip_start` is where its clip begins,
    0 for a curve of the track that runs on.
    """
    frames = np.arange(span.start - 1, span.end)
    factor = _frame_factors(curve, frames)
    active = np.ones(len(frames), dtype=bool)
    begins = clip_start
    if curve.span is not None:
        active = (frames >= curve.span.start) & (frames < curve.span.end)
        begins = max(begins, curve.span.start)
    factor = np.where(active, factor, 1.0)
    before, after = factor[:-1].copy(), factor[1:]
    if begins in span:
        before[begins - span.start] = after[begins - span.start]
    unchanging = ~active[1:]
    before[unchanging] = after[unchanging] = 1.0
    if np.all(before == after[0]) and np.all(after == after[0]):
        samples = rate.samples(span.end, MIX_HZ) - rate.samples(span.start, MIX_HZ)
        return np.full(samples, after[0], dtype=np.float32)
    edges = [rate.samples(frame, MIX_HZ) for frame in range(span.start, span.end + 1)]
    parts = [
        np.linspace(before[i], after[i], edges[i + 1] - edges[i] + 1, dtype=np.float32)[1:]
        for i in range(span.length)
    ]
    return np.concatenate(parts)


def _frame_factors(curve: LevelCurve, frames: NDArray[np.int64]) -> NDArray[np.float64]:
    """The factor a curve has reached at the end of each frame."""
    keys = sorted(curve.keys, key=lambda key: key.frame)
    xs = [key.frame for key in keys]
    if curve.linear_amplitude:
        return np.interp(frames, xs, [10 ** (key.gain_db / 20) for key in keys])
    gain = np.interp(frames, xs, [key.gain_db for key in keys])
    held = np.searchsorted(xs, frames, side="right") - 1
    holds = np.array([key.hold for key in keys])
    values = np.array([key.gain_db for key in keys])
    on_hold = (held >= 0) & holds[np.maximum(held, 0)]
    return np.asarray(10 ** (np.where(on_hold, values[np.maximum(held, 0)], gain) / 20), dtype=np.float64)
