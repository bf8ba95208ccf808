"""Music under speech: where it goes down, how far, and the curve that takes it there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, isfinite

import numpy as np

from mltassist.frames import Span, joined
from mltassist.timeline.edits import ClearOurs, Edit, SetLevelCurve

STRAIGHT_DB = 1e-6
"""Bends smaller than this are rounding, not points of the curve."""
PLAIN_DB = 20.0
"""Plain level of background under speech in WCAG 2.x, success criterion 1.4.7."""
SURE_DB = 0.05
"""The promise of it is kept with so much to spare: rounded keys and 16-bit sound move a level by less."""


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch that music must stay under.

    foreground_lufs: loudness of the speech (or natural sound) in it; music_lufs: of the music there at
    the editor's own levels, -inf where none sounds; separation_lu: how far apart they are to be.
    foreground_db and music_db: the plain levels of both, -inf where they were not measured.
    """

    span: Span
    foreground_lufs: float
    music_lufs: float
    separation_lu: float
    natural: bool = False
    foreground_db: float = -inf
    music_db: float = -inf


@dataclass(frozen=True, slots=True)
class MusicClip:
    """A clip of music. `span` is on the timeline; `track`, span.start and `source` find it again."""

    track: int
    span: Span
    source: str = ""


@dataclass(frozen=True, slots=True)
class Ramps:
    """Frames that music takes to come down before a passage and to come up after it."""

    down: int
    up: int


def passages(speech: Iterable[Span], bridge: int, ramps: Ramps) -> tuple[Span, ...]:
    """Stretches of speech; music stays down over gaps shorter than `bridge`, or than it takes to move."""
    return joined(speech, max(bridge - 1, ramps.down + ramps.up))


def depth_db(passage: Passage, limit_db: float) -> float:
    """Change of music level a passage needs: 0 where it is low enough, never below -limit_db.

    From a separation of 20 LU on, speech stands 20 dB above the music in plain level too: that is what
    WCAG 2.x, success criterion 1.4.7 counts in, and deep music or a pause in the speech makes the two differ.
    """
    if passage.music_lufs == -inf or passage.foreground_lufs == -inf:
        return 0.0
    wanted = passage.foreground_lufs - passage.separation_lu - passage.music_lufs
    if not passage.natural and passage.separation_lu >= PLAIN_DB and isfinite(passage.music_db):
        wanted = min(wanted, passage.foreground_db - PLAIN_DB - SURE_DB - passage.music_db)
    return max(-limit_db, min(0.0, wanted))


def plan_duck(
    clips: Iterable[MusicClip], found: Iterable[Passage], *, ramps: Ramps, depth_limit_db: float
) -> tuple[Edit, ...]:
    """A volume curve for every music clip that a passage or its ramps touch.

    The ramp down is complete when the first word begins: the engine reaches a key's value at the end
    of its frame, so the key stands one frame before the passage.
    """
    holds = [(passage, depth_db(passage, depth_limit_db)) for passage in found]
    edits: list[Edit] = [ClearOurs("duck", "level curves of an earlier run are replaced")]
    for clip in clips:
        near = [
            (passage.span, depth)
            for passage, depth in holds
            if depth < 0 and passage.span.grown(ramps.down + 1, ramps.up + 1).overlaps(clip.span)
        ]
        if not near:
            continue
        keys = curve_keys(clip.span, near, ramps)
        deepest = min(gain for _, gain in keys)
        edits.append(
            SetLevelCurve(
                at=clip.span.start,
                track=clip.track,
                keys=keys,
                reason=f"music under {len(near)} passage{'s' * (len(near) > 1)}, down to {deepest:.1f} dB",
                source=clip.source,
            )
        )
    return tuple(edits)


def curve_keys(
    clip: Span, holds: Iterable[tuple[Span, float]], ramps: Ramps
) -> tuple[tuple[int, float], ...]:
    """Keys (timeline frame, dB) of the curve through `holds`, as far as it lies on the clip.

    Between holds that are far enough apart the music comes up; between closer ones it goes straight
    from one level to the other. Holds are in order and do not overlap.
    """
    points = _points(sorted(holds), ramps)
    frames = np.arange(clip.start, clip.end)
    curve = np.interp(frames, [frame for frame, _ in points], [gain for _, gain in points])
    bends = np.flatnonzero(np.abs(np.diff(curve, 2)) > STRAIGHT_DB) + 1
    places = sorted({0, clip.length - 1, *bends.tolist()})
    return tuple((clip.start + place, round(float(curve[place]), 3)) for place in places)


def _points(holds: list[tuple[Span, float]], ramps: Ramps) -> list[tuple[int, float]]:
    """Corners of the curve. A hold lasts from the end of the frame before it to the end of its last."""
    points: list[tuple[int, float]] = []
    for span, depth in holds:
        first, last = span.start - 1, span.end - 1
        if not points or first - points[-1][0] >= ramps.up + ramps.down:
            if points:
                points.append((points[-1][0] + ramps.up, 0.0))
            points.append((first - ramps.down, 0.0))
        elif first <= points[-1][0] and depth < points[-1][1]:
            # They touch, and this one is lower: it must be reached before it begins.
            while len(points) > 1 and points[-2][0] >= first:
                points.pop()  # a hold of one frame, whose two ends are one point
            start, level = points[-2][0], points[-1][1]
            points.pop()
            if (turn := max(start + 1, first - ramps.down)) < first:
                points.append((turn, level))
        elif first <= points[-1][0]:
            first = max(points[-1][0] + 1, min(last - 1, points[-1][0] + ramps.up))
        points += [(first, depth), (last, depth)]
    if points:
        points.append((points[-1][0] + ramps.up, 0.0))
    return points
