"""The sound of a timeline as the engine plays it: clips with their gains, summed at unity.

The rules are the engine's, measured on its output: mono plays at -3.01 dB on both channels; a level
curve is straight in dB from frame to frame, and within a frame the gain goes in a straight line of
amplitude from the value of the frame before to the frame's own. In a dissolve of n frames the part of the
incoming clip has reached k / n of full amplitude at the end of frame k, counted from 0, and the outgoing
clip has the rest: the first frame is still the outgoing clip's alone.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from itertools import islice
from math import inf
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.frames import Rate, Span
from mltassist.media.sound.atspeed import is_heard, read_clip
from mltassist.media.sound.decode import MIX_HZ, as_stereo
from mltassist.media.sound.recordings import Sound
from mltassist.timeline.model import Clip, Dissolve, Gap, Item, LevelCurve, LevelKey, Timeline, Track
from mltassist.timeline.wholes import runs_on

BLOCK_S = 10
_MONO = np.float32(0.5**0.5)
_AHEAD = 2  # parts mixed at a time
Report = Callable[[Path, str], None]
"""Told of every file that could not be heard, and why."""


def stem(
    clips: Iterable[tuple[Track, Clip]], span: Span, rate: Rate, *, on_missing: Report | None = None
) -> Sound:
    """Sum of these clips over the frames `span`: shape (2, samples) at 48 kHz, ±1.0 full scale.

    The halves of a dissolve fade over into each other as it does.
    Files that cannot be read are silent; `on_missing` is told. So are clips whose speed changes, that run
    backward, less than half or more than twice as fast, or with their pitch kept: see `media.atspeed`.
    """
    first = rate.samples(span.start, MIX_HZ)
    total = rate.samples(span.end, MIX_HZ) - first
    mix = np.zeros((2, max(0, total)), dtype=np.float32)
    for track, clip in clips:
        heard = clip.span.shared(span)
        if heard.length <= 0 or clip.source.path is None or not is_heard(clip):
            continue
        begin, end = (rate.samples(frame, MIX_HZ) for frame in (heard.start, heard.end))
        try:
            sound = read_clip(clip, heard, rate, MIX_HZ)
        except MediaError as error:
            if on_missing is not None:
                on_missing(clip.source.path, str(error))
            continue
        # A mono recording stays one row, which is added to both sides.
        sound = sound * _MONO if sound.shape[0] == 1 else as_stereo(sound)
        for gain in _gains(track, clip, heard, rate):
            sound *= gain
        mix[:, begin - first : end - first] += sound
    return mix


def _gains(track: Track, clip: Clip, heard: Span, rate: Rate) -> Iterator[NDArray[np.float32]]:
    begins = 0 if clip.levels and _is_rest(track, clip) else clip.start
    for curve in clip.levels:
        yield curve_gain(curve, heard, rate, clip_start=begins)
    for curve in _crossing(track, clip):
        yield curve_gain(curve, heard, rate, clip_start=clip.start)
    # A curve of the track runs on from clip to clip; after a gap it too begins without a ramp.
    continues = bool(track.levels) and any(item.span.end == clip.start for item in _solid(track))
    for curve in track.levels:
        yield curve_gain(curve, heard, rate, clip_start=0 if continues else clip.start)


def stem_blocks(
    clips: Iterable[tuple[Track, Clip]],
    span: Span,
    rate: Rate,
    *,
    block_s: Fraction | int = BLOCK_S,
    on_missing: Report | None = None,
) -> Iterator[Sound]:
    """The same sum in parts of `block_s` seconds, one after the other: it never lies in memory whole.

    The next parts are mixed in threads of their own while one is listened to.
    """
    missing: list[tuple[Path, str]] = []

    def mixed(task: tuple[list[tuple[Track, Clip]], Span]) -> Sound:
        return stem(*task, rate, on_missing=lambda path, why: missing.append((path, why)))

    tasks = _parts(clips, span, rate, block_s)
    with ThreadPoolExecutor(_AHEAD) as pool:
        coming = deque(pool.submit(mixed, task) for task in islice(tasks, _AHEAD))
        while coming:
            part = coming.popleft().result()
            coming.extend(pool.submit(mixed, task) for task in islice(tasks, 1))
            while missing and on_missing is not None:
                on_missing(*missing.pop(0))
            yield part


def _parts(
    clips: Iterable[tuple[Track, Clip]], span: Span, rate: Rate, block_s: Fraction | int
) -> Iterator[tuple[list[tuple[Track, Clip]], Span]]:
    """Successive parts of `span`, each with the clips that sound in it."""
    waiting = deque(sorted(clips, key=lambda pair: pair[1].start))
    held: list[tuple[Track, Clip]] = []
    block = max(1, rate.frames(block_s))
    for start in range(span.start, span.end, block):
        part = Span(start, min(span.end, start + block))
        while waiting and waiting[0][1].start < part.end:
            held.append(waiting.popleft())
        held = [pair for pair in held if pair[1].span.end > part.start]
        yield held, part


def mix_blocks(
    timeline: Timeline, block_s: Fraction | int = BLOCK_S, *, on_missing: Report | None = None
) -> Iterator[Sound]:
    """The whole film's sound in parts of `block_s` seconds, one after the other, as the engine keeps it.

    That is in floating point: it may pass full scale. See `stem` for what is silent.
    """
    span = Span(0, timeline.length)
    at = 0
    block = max(1, timeline.rate.frames(block_s))
    for part in stem_blocks(sounding(timeline), span, timeline.rate, block_s=block_s, on_missing=on_missing):
        inside = Span(at, min(timeline.length, at + block))
        for curve in timeline.levels:
            np.multiply(part, curve_gain(curve, inside, timeline.rate), out=part)
        yield part
        at = inside.end


def sounding(timeline: Timeline) -> tuple[tuple[Track, Clip], ...]:
    """Everything that is heard: the clips of all tracks that are not switched off."""
    return tuple(
        (track, clip)
        for track in timeline.tracks
        if track.has_sound and not track.muted
        for clip in track.clips()
        if clip.plays_sound
    )


def heard_alike(clips: Iterable[tuple[Track, Clip]], span: Span, rate: Rate) -> tuple[object, ...]:
    """The same for all clips that give the same `stem` over a span, wherever on the timeline it lies.

    It tells the files apart by their size and time of change too.
    """
    phase = Fraction(span.start * MIX_HZ) / rate.fraction % 1  # frames may begin between two samples
    heard = ((track, clip) for track, clip in clips if clip.span.overlaps(span))
    return (span.length, phase, *(_alike(track, clip, span) for track, clip in heard))


def _alike(track: Track, clip: Clip, span: Span) -> tuple[object, ...]:
    """What of a clip is heard in a span. At another speed the whole of it counts where its samples lie."""
    heard = clip.span if not clip.plain_speed else clip.span.shared(span)
    rest = bool(clip.levels) and _is_rest(track, clip)
    continues = bool(track.levels) and any(item.span.end == clip.start for item in _solid(track))
    curves = [(curve, not rest) for curve in (*clip.levels, *_crossing(track, clip))]
    curves += [(curve, not continues) for curve in track.levels]
    return (
        *(clip.source.key, _state(clip.source.path), clip.sound_stream),
        *(clip.speed, clip.remap, is_heard(clip)),
        *(clip.source_frame(heard.start), heard.start - span.start, heard.length),
        *(_curve_alike(curve, span, begins and clip.start in span) for curve, begins in curves),
    )


def _curve_alike(curve: LevelCurve, span: Span, begins: bool) -> tuple[object, ...]:
    """What of a curve is heard in a span: its keys there, with the nearest beside them."""
    keys = sorted(curve.keys, key=lambda key: key.frame)
    first = max(0, bisect_right(keys, span.start - 1, key=lambda key: key.frame) - 1)
    last = bisect_left(keys, span.end, key=lambda key: key.frame) + 1
    near = tuple((key.frame - span.start, key.gain_db, key.hold) for key in keys[first:last])
    if len({gain_db for _, gain_db, _ in near}) == 1:
        near = ((0, near[0][1], False),)  # it stays as it is, wherever its keys lie
    if curve.span is None:
        return near, None, curve.linear_amplitude, begins
    # The frame before the first is the last that counts: a ramp may come from there.
    within = max(-1, curve.span.start - span.start), min(span.length, curve.span.end - span.start)
    return near, within, curve.linear_amplitude, begins


def _state(path: Path | None) -> tuple[int, int] | None:
    try:
        found = None if path is None else path.stat()
    except OSError:
        return None
    return None if found is None else (found.st_size, found.st_mtime_ns)


def _crossing(track: Track, clip: Clip) -> Iterator[LevelCurve]:
    """The fade of a dissolve, where the clip is a half of one."""
    place = bisect_left(track.items, clip.start, key=lambda item: item.start)
    item = track.items[place] if place < len(track.items) else None
    if not isinstance(item, Dissolve) or item.start != clip.start:
        return
    for half, levels_db in ((item.outgoing, (0.0, -inf)), (item.incoming, (-inf, 0.0))):
        if (half.source, half.source_in) == (clip.source, clip.source_in):
            keys = [LevelKey(at, db) for at, db in zip((item.start, item.span.end), levels_db, strict=True)]
            yield LevelCurve(tuple(keys), item.span, linear_amplitude=True)
            return


def _is_rest(track: Track, clip: Clip) -> bool:
    """True when a clip is the rest of one that began before, cut off by a dissolve in the model only."""
    earlier = next((item for item in _solid(track) if item.span.end == clip.start), None)
    match earlier:
        case Dissolve(overlaps=True):
            half = earlier.incoming
        case Clip() if any(
            isinstance(item, Dissolve) and item.overlaps and item.start == clip.start for item in track.items
        ):
            half = earlier
        case _:
            return False
    return runs_on(half, clip)


def _solid(track: Track) -> Iterator[Item]:
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
    edges = np.array([rate.samples(frame, MIX_HZ) for frame in range(span.start, span.end + 1)])
    lengths = np.diff(edges)
    gain = np.repeat(after.astype(np.float32), lengths)
    moving = before != after
    for length in np.unique(lengths[moving]):  # one length, or two where a frame is no whole number
        chosen = moving & (lengths == length)
        start, end = before[chosen, None].astype(np.float32), after[chosen, None].astype(np.float32)
        ramps = start + (end - start) * (np.arange(1, length + 1, dtype=np.float32) / np.float32(length))
        if gain.size == length * lengths.size:
            gain.reshape(-1, length)[chosen] = ramps
        else:
            gain[(edges[:-1][chosen] - edges[0])[:, None] + np.arange(length)] = ramps
    return gain


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
