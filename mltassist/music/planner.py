"""What sounds beneath speech: where it goes down, how far, and the curve that takes it there."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from math import inf, isfinite, log10

import numpy as np

from mltassist.frames import Span, joined
from mltassist.timeline.edits import Edit, SetLevelCurve

STRAIGHT_DB = 1e-6
"""Bends smaller than this are rounding, not points of the curve."""
PLAIN_DB = 20.0
"""Plain level of background under speech in WCAG 2.x, success criterion 1.4.7."""
_STEP = 8
"""A step from one level to another within a passage takes at most this part of what sounds of the clip on the
side on which it is made: longer, and the step would be more of what is heard there than its level."""
LEAST_STEP = 2  # frames
SURE_DB = 0.05
"""The promise of it is kept with so much to spare: rounded keys and 16-bit sound move a level by less."""


Sounding = tuple[int, int, str]
"""What sounds: number of its layer, of its track, and its source."""
ABOVE = -1
"""The layer of what is heard above the others: who speaks, from which recording, at which gain."""


@dataclass(frozen=True, slots=True)
class PassagePart:
    """Part of a passage in which the same sounds lie beneath the same speech. beneath: all of them."""

    span: Span
    beneath: frozenset[Sounding]

    def of_layer(self, layer: int) -> frozenset[Sounding]:
        """Those of one layer."""
        return frozenset(one for one in self.beneath if one[0] == layer)


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch that something must stay under: all that sounds of one element, music for instance.

    foreground_lufs: loudness of the speech (or natural sound) in it; beneath_lufs: of what is to stay under
    it, at the editor's own levels, -inf where none sounds; separation_lu: how far apart they are to be.
    foreground_db and beneath_db: the plain levels of both, -inf where they were not measured.
    """

    span: Span
    foreground_lufs: float
    beneath_lufs: float
    separation_lu: float
    natural: bool = False
    foreground_db: float = -inf
    beneath_db: float = -inf


@dataclass(frozen=True, slots=True)
class ClipBeneath:
    """A clip that lies beneath. `span` is on the timeline; `track`, span.start and `source` find it again.

    alone: whether, at its beginning and at its end, no other of its track meets it.
    """

    track: int
    span: Span
    source: str = ""
    alone: tuple[bool, bool] = (False, False)


@dataclass(frozen=True, slots=True)
class Ramps:
    """Frames that it takes to come down before a passage and to come up after it."""

    down: int
    up: int


def passages(speech: Iterable[Span], bridge: int, ramps: Ramps) -> tuple[Span, ...]:
    """Stretches of speech; gaps shorter than `bridge`, or than it takes to move up and down, are none."""
    return joined(speech, max(bridge - 1, ramps.down + ramps.up))


def split_passage(
    passage: Span, sounding: Iterable[tuple[Span, Sounding]], shortest: int
) -> tuple[PassagePart, ...]:
    """A passage, divided where what sounds in it changes; none shorter than `shortest`, but a short passage.

    What is too short on its own goes with what comes before it, or else after it, and so do its sounds.
    """
    here = [(span.shared(passage), name) for span, name in sounding if span.overlaps(passage)]
    edges = sorted(
        {passage.start, passage.end, *(edge for span, _ in here for edge in (span.start, span.end))}
    )
    found: list[PassagePart] = []
    for start, end in pairwise(edges):
        span = Span(start, end)
        beneath = frozenset(name for other, name in here if other.overlaps(span))
        if found and found[-1].beneath == beneath:
            found[-1] = PassagePart(Span(found[-1].span.start, end), beneath)
        else:
            found.append(PassagePart(span, beneath))
    while len(found) > 1 and (short := min(found, key=lambda one: one.span.length)).span.length < shortest:
        at = found.index(short)
        first, second = (found[at - 1], short) if at else (short, found[1])
        whole = PassagePart(Span(first.span.start, second.span.end), first.beneath | second.beneath)
        found[max(0, at - 1) : max(0, at - 1) + 2] = [whole]
    return tuple(found)


def sounding_parts(layer: int, passage: Sequence[PassagePart]) -> tuple[tuple[PassagePart, ...], ...]:
    """The stretches of a passage in which a layer sounds, those together that follow each other."""
    grouped = groupby(passage, lambda one: bool(one.of_layer(layer)))
    return tuple(tuple(some) for sounds, some in grouped if sounds)


def depth_db(passage: Passage, limit_db: float) -> float:
    """Change of level that a passage needs: 0 where it is low enough, never below -limit_db.

    From a separation of 20 LU on, speech stands 20 dB above it in plain level too: that is what
    WCAG 2.x, success criterion 1.4.7 counts in, and deep music or a pause in the speech makes the two differ.
    """
    if passage.beneath_lufs == -inf or passage.foreground_lufs == -inf:
        return 0.0
    wanted = passage.foreground_lufs - passage.separation_lu - passage.beneath_lufs
    return max(-limit_db, min(0.0, wanted, plain_depth_db(passage, limit_db)))


def plain_depth_db(passage: Passage, limit_db: float) -> float:
    """Change of level that 20 dB of plain level ask for; 0 where they are not asked for."""
    asked = not passage.natural and passage.separation_lu >= PLAIN_DB
    if not asked or not isfinite(passage.foreground_db) or not isfinite(passage.beneath_db):
        return 0.0
    return max(-limit_db, min(0.0, passage.foreground_db - PLAIN_DB - SURE_DB - passage.beneath_db))


def excess_db(foreground_db: float, beneath_db: Iterable[float]) -> float:
    """By how much all that sounds beneath, together, is nearer to speech than 20 dB of plain level.

    The success criterion counts all background sounds, and three that keep 20 dB each are 5 dB too loud.
    """
    power = sum(10 ** (level / 10) for level in beneath_db)
    if not power or not isfinite(foreground_db):
        return 0.0
    return max(0.0, 10 * log10(power) - (foreground_db - PLAIN_DB - SURE_DB))


@dataclass(frozen=True, slots=True)
class Hold:
    """A level that all of one layer has over a stretch of a passage. depth_db: 0 or less.

    passage: number of the passage that the stretch is part of; sounds: what lies beneath there.
    """

    span: Span
    depth_db: float
    passage: int = 0
    sounds: frozenset[Sounding] = frozenset()


def up_again(span: Span, holds: Iterable[Hold], ramps: Ramps) -> int | None:
    """The frame at which what was held down over `span` is back at its level; None where it stays down."""
    later = min(
        (hold.span.start for hold in holds if hold.depth_db < 0 and hold.span.end > span.end), default=None
    )
    if later is not None and later - span.end < ramps.up + ramps.down:
        return None
    return span.end - 1 + ramps.up


def holds_of(clip: ClipBeneath, holds: Iterable[Hold]) -> tuple[tuple[Span, float], ...]:
    """The levels that a clip must have: in each passage those of its own stretches.

    Where a passage has none, the clip may still begin on the way up from it, so all of them count. Levels of
    a passage before and after the clip are none of its own where nothing else takes up its sound.
    """
    found: list[tuple[Span, float]] = []
    for _, some in groupby(holds, lambda hold: hold.passage):
        whole = list(some)
        own = [hold for hold in whole if any(one[1:] == (clip.track, clip.source) for one in hold.sounds)]
        found += [(hold.span, hold.depth_db) for hold in _heard_in(clip, own or whole)]
    return tuple(found)


def _heard_in(clip: ClipBeneath, holds: Sequence[Hold]) -> Sequence[Hold]:
    """Those of a passage while the clip sounds, those before and after it where its sound goes on there."""
    inside = [hold for hold in holds if hold.span.overlaps(clip.span)]
    if not inside:
        return holds
    first, last = inside[0].span.start, inside[-1].span.end
    return [
        hold
        for hold in holds
        if (hold.span.end > first or not clip.alone[0]) and (hold.span.start < last or not clip.alone[1])
    ]


def plan_duck(
    clips: Iterable[ClipBeneath], holds: Sequence[Hold], *, ramps: Ramps, name: str = "music"
) -> tuple[Edit, ...]:
    """A volume curve for every clip that a passage, held at its level, or its ramps touch.

    The ramp down is complete when the first word begins: the engine reaches a key's value at the end
    of its frame, so the key stands one frame before the passage. name: what the clips are.
    """
    edits: list[Edit] = []
    for clip in met(clips):
        near = [
            (span, depth)
            for span, depth in holds_of(clip, holds)
            if depth and span.grown(ramps.down + 1, ramps.up + 1).overlaps(clip.span)
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
                reason=f"{name} under {len(near)} passage{'s' * (len(near) > 1)}, down to {deepest:.1f} dB",
                source=clip.source,
            )
        )
    return tuple(edits)


def met(clips: Iterable[ClipBeneath]) -> tuple[ClipBeneath, ...]:
    """The clips, each knowing where another of its track meets it or dissolves into it."""
    whole = tuple(clips)
    starts, ends = defaultdict[int, list[int]](list), defaultdict[int, list[int]](list)
    for clip in whole:
        insort(starts[clip.track], clip.span.start)
        insort(ends[clip.track], clip.span.end)

    def touched(clip: ClipBeneath, frame: int) -> bool:
        """Whether more clips than this one lie at a frame, or end or begin there."""
        return bisect_right(starts[clip.track], frame) - bisect_left(ends[clip.track], frame) > 1

    return tuple(
        replace(clip, alone=(not touched(clip, clip.span.start), not touched(clip, clip.span.end)))
        for clip in whole
    )


def curve_keys(
    clip: Span, holds: Iterable[tuple[Span, float]], ramps: Ramps
) -> tuple[tuple[int, float], ...]:
    """Keys (timeline frame, dB) of the curve through `holds`, as far as it lies on the clip.

    Between holds that are far enough apart the music comes up; between closer ones it goes straight
    from one level to the other. Holds are in order and do not overlap.
    """
    points = _points(sorted(holds), ramps, clip)
    frames = np.arange(clip.start, clip.end)
    curve = np.interp(frames, [frame for frame, _ in points], [gain for _, gain in points])
    bends = np.flatnonzero(np.abs(np.diff(curve, 2)) > STRAIGHT_DB) + 1
    places = sorted({0, clip.length - 1, *bends.tolist()})
    return tuple((clip.start + place, round(float(curve[place]), 3)) for place in places)


def _points(holds: list[tuple[Span, float]], ramps: Ramps, clip: Span) -> list[tuple[int, float]]:
    """Corners of the curve. A hold lasts from the end of the frame before it to the end of its last."""
    points: list[tuple[int, float]] = []
    earlier = 0  # frames of the clip in the hold before
    for span, depth in holds:
        first, last = span.start - 1, span.end - 1
        sounding = max(0, span.shared(clip).length)
        down, up = (min(ramps.down, max(LEAST_STEP, some // _STEP)) for some in (earlier, sounding))
        earlier = sounding
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
            if (turn := max(start + 1, first - down)) < first:
                points.append((turn, level))
        elif first <= points[-1][0]:
            # A step up within a passage is no coming up: what follows is to be right soon.
            first = max(points[-1][0] + 1, min(last - 1, points[-1][0] + min(ramps.up, up)))
        points += [(first, depth), (last, depth)]
    if points:
        points.append((points[-1][0] + ramps.up, 0.0))
    return points
