"""Loudness measured in pieces that begin where clips do: what only lies elsewhere is not measured again.

A pause or a moved join shifts all that comes after it. Each piece is known by what is heard in it, wherever
on the timeline it lies; the blocks that loudness is gated by are put together from the powers of pieces.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from math import gcd
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Rate, Span
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.meter import METER_HOP, Meter, weighted_powers
from mltassist.media.sound.mix import Report, heard_alike, stem
from mltassist.media.sound.peaks import REACH, STRIDE, highest_between, most_between
from mltassist.timeline.model import Clip, Track

_Clips = Iterable[tuple[Track, Clip]]
_Known = Callable[[object, Callable[[Report], Any]], Any]
"""Gives what was measured under a key, or has it measured, and says who is told of files that are missing."""
_PIECE_S, LEAST_S = 4, 1
"""Seconds of a recording to a piece, and of the shortest that is cut off for a clip's sake."""
LEAD_S = Fraction(1, 5)
"""Heard before a piece: what the weighting remembers of it has fallen under the last digit by then."""
SLOT = 160
"""Samples to a power where frames are no whole number of samples: a block is right to 3 ms at its ends."""


class Piece(NamedTuple):
    """What was measured. powers: weighted, each summed over one slot; plain: unweighted power, summed.

    highest: of its samples, as size.
    """

    samples: int
    powers: NDArray[np.float64]
    plain: float
    highest: float


class _Part(NamedTuple):
    """A piece of a span that is to be measured, with the clips that sound in it and shortly before it."""

    span: Span
    heard: Span
    clips: tuple[tuple[Track, Clip], ...]


def read_in_pieces(clips: _Clips, span: Span, rate: Rate, known: _Known, *, peaks: bool = False) -> Meter:
    """A meter that has read what these clips sound like together over a span, from its start to its end.

    known: asked for every piece; the same pieces give the same meter, bit by bit.
    """
    slot, parts = _slot(rate), list(_parts(tuple(clips), span, rate))
    pieces = [_piece(part, rate, slot, known) for part in parts]
    peak = _peak(parts, pieces, span, rate, known) if peaks else None
    powers = [(piece.samples, piece.powers) for piece in pieces]
    return Meter.of_powers(powers, slot, sum(piece.plain for piece in pieces), peak)


def _slot(rate: Rate) -> int:
    """Samples to a power: where frames are whole samples, so many that hops and frames hold whole slots."""
    frame = Fraction(MIX_HZ) / rate.fraction
    fitting = gcd(frame.numerator, METER_HOP) if frame.denominator == 1 else 0
    return fitting if fitting >= SLOT else SLOT


def _parts(clips: tuple[tuple[Track, Clip], ...], span: Span, rate: Rate) -> Iterator[_Part]:
    edges, lead = _edges(clips, span, rate), rate.frames(LEAD_S)
    waiting = deque(sorted(clips, key=lambda pair: pair[1].start))
    held: list[tuple[Track, Clip]] = []
    for start, end in pairwise(edges):
        heard = Span(max(span.start, start - lead), end)
        while waiting and waiting[0][1].start < end:
            held.append(waiting.popleft())
        held = [pair for pair in held if pair[1].span.end > heard.start]
        yield _Part(Span(start, end), heard, tuple(held))


def _edges(clips: _Clips, span: Span, rate: Rate) -> list[int]:
    """Where pieces begin, and the end of the last: where clips do, and at whole steps of their recordings."""
    step, least, found = rate.frames(_PIECE_S), rate.frames(LEAST_S), set[int]()
    for _, clip in clips:
        inside = clip.span.shared(span)
        if inside.length > 0:
            first = (
                -(clip.source_frame(inside.start) if clip.plain_speed else inside.start - clip.start) % step
            )
            found.update((inside.start, inside.end, *range(inside.start + first, inside.end, step)))
    edges = [span.start]
    for edge in sorted(found):
        if edge - edges[-1] >= least:
            edges.append(edge)
    if len(edges) > 1 and span.end - edges[-1] < least:
        edges.pop()
    return [*edges, span.end] if span.length > 0 else []


def _piece(part: _Part, rate: Rate, slot: int, known: _Known) -> Piece:
    samples = rate.samples(part.span.end, MIX_HZ) - rate.samples(part.span.start, MIX_HZ)
    if not part.clips:
        return Piece(samples, np.zeros(-(-samples // slot)), 0.0, 0.0)

    def measured(missing: Report) -> Piece:
        sound = stem(part.clips, part.heard, rate, on_missing=missing)
        lead = sound.shape[1] - samples
        powers, own = weighted_powers(sound)[0][lead:], sound[:, lead:]
        sums = np.add.reduceat(powers, np.arange(0, samples, slot))
        return Piece(samples, sums, float(np.vdot(own, own)), float(max(own.max(), -own.min())))

    key = ("piece", slot, part.span.length, heard_alike(part.clips, part.heard, rate))
    piece: Piece = known(key, measured)
    return piece


def _peak(parts: Sequence[_Part], pieces: Sequence[Piece], span: Span, rate: Rate, known: _Known) -> float:
    """The highest value on and between all samples; only pieces are looked at that can hold it."""
    sampled = highest = max((piece.highest for piece in pieces), default=0.0)
    # At its ends the wave of a piece is bent by what lies beside it.
    most = [max(piece.highest for piece in pieces[max(0, at - 1) : at + 2]) for at in range(len(pieces))]
    for number in sorted(range(len(parts)), key=lambda one: -most[one]):
        if most[number] * most_between() <= highest:
            break
        beside = {id(pair[1]): pair for part in parts[max(0, number - 1) : number + 2] for pair in part.clips}
        near = tuple(beside.values())
        highest = max(highest, _between(near, parts[number].span, span, rate, known, sampled=sampled))
    return highest


def _between(
    clips: tuple[tuple[Track, Clip], ...],
    part: Span,
    span: Span,
    rate: Rate,
    known: _Known,
    *,
    sampled: float,
) -> float:
    """The highest value of the wave on and between the samples of a part, `sampled` where that is higher."""
    around = part.grown(1, 1).shared(span)
    near = tuple(pair for pair in clips if pair[1].span.overlaps(around))

    def measured(missing: Report) -> float:
        sound = stem(near, around, rate, on_missing=missing)
        first, last = (
            rate.samples(frame, MIX_HZ) - rate.samples(around.start, MIX_HZ)
            for frame in (part.start, part.end)
        )
        padded = np.pad(sound, ((0, 0), (REACH, 2 * REACH + STRIDE)))
        after = 2 * REACH if part.end < around.end else 3 * REACH + STRIDE
        return highest_between(padded[:, first : last + after], sampled)

    key = ("between", sampled, part.start - around.start, part.length, heard_alike(near, around, rate))
    found: float = known(key, measured)
    return found
