"""Parts of other divisions in the place of those of the best plan.

Where no shot of either goes over two places both divisions can be cut there, and what lies between taken
from the other one. Its spans begin with the clips that lay where they lie. (The crossing over of genetic
algorithms, Holland 1975; from memory.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from mltassist.cutaways.planner.assigning import TURNS
from mltassist.cutaways.planner.best import Best
from mltassist.cutaways.planner.paths import Rows
from mltassist.frames import Span

POOL = 16
"""Other divisions that are looked at: the last ones come from the best prices."""
QUICK = 30
"""Sets of clips chosen anew before a crossing is judged."""
NEARLY = 0.002
"""Part of the cost by which one may be dearer then, and is still worth more."""
WORTH = 0.001
"""What all of them have to bring, as a part of the cost, to be looked at once more."""


def cross(best: Best, divisions: Sequence[tuple[Span, ...]]) -> None:
    """Better the best plan by parts of these divisions."""
    pool = list(dict.fromkeys(reversed(divisions)))[:POOL]
    tried: set[tuple[tuple[Span, ...], tuple[Span, ...]]] = set()
    before = float("inf")
    while best.cost < (1 - WORTH) * before:
        before = best.cost
        for division in pool:
            for own, other in list(differing([span for span, _ in best.rows], division)):
                if (own, other) not in tried:
                    tried.add((own, other))
                    _try(best, own, other)


def _try(best: Best, own: tuple[Span, ...], other: tuple[Span, ...]) -> None:
    clips = dict(best.rows)
    if not clips or not set(own) <= clips.keys():  # another part was exchanged meanwhile
        return
    rows = [row for row in best.rows if row[0] not in own]
    for span in other:
        near = max(clips, key=lambda one: (one.shared(span).length, -abs(one.start - span.start)))
        rows.append((span, clips[near]))
    rows.sort()
    crossed: Rows = tuple(rows)
    if any(one.overlaps(following) for (one, _), (following, _) in pairwise(crossed)):
        return
    cost, crossed = best.refilled(crossed, QUICK, calm=True)
    if best.cost < cost < (1 + NEARLY) * best.cost:
        best.refilled(crossed, TURNS)


def differing(
    one: Sequence[Span], other: Sequence[Span]
) -> Iterator[tuple[tuple[Span, ...], tuple[Span, ...]]]:
    """What lies between places that no span of either goes over, where it is not the same."""
    groups: list[list[Span]] = []
    until = -1
    for span in sorted({*one, *other}):
        if span.start < until:
            groups[-1].append(span)
        else:
            groups.append([span])
        until = max(until, span.end)
    for spans in groups:
        both = tuple(tuple(span for span in spans if span in division) for division in (one, other))
        if both[0] != both[1]:
            yield both[0], both[1]
