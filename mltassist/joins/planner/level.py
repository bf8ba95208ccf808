"""Which clips of a speaker were turned up or down, and by how much they go back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isclose

from mltassist.timeline.moves import Place

LEAST_DB = 0.05
"""Less is no gain worth writing."""


@dataclass(frozen=True, slots=True)
class Link:
    """Two bites of one speaker that meet, and how much louder (dB) all of the second is heard to be."""

    before: Place
    after: Place
    step_db: float


def gains_db(
    links: Iterable[Link], levels_dbfs: Mapping[Place, float], lengths: Mapping[Place, int]
) -> list[dict[Place, float]]:
    """The gains of the clips that are to change, dB: those that belong together in one.

    Bites that meet make a chain, in which the steps tell how much louder each is than the first. Of the
    levels in it, the one that stays is that nearest to the level at which this speaker speaks most of the
    time (the median of the bites' speech, by their length); the others are brought to it.
    levels_dbfs: speech of each clip, where it is known. lengths: frames.
    """
    neighbours: dict[Place, list[tuple[Place, float]]] = {}
    for link in links:
        neighbours.setdefault(link.before, []).append((link.after, link.step_db))
        neighbours.setdefault(link.after, []).append((link.before, -link.step_db))
    found: list[dict[Place, float]] = []
    seen: set[Place] = set()
    for start in sorted(neighbours):
        if start in seen:
            continue
        offsets = _chain(start, neighbours)
        seen |= set(offsets)
        usual = _usual({p: levels_dbfs[p] for p in offsets if p in levels_dbfs}, lengths)
        stays = _nearest(offsets, usual, levels_dbfs, lengths)
        gains = {place: stays - offset for place, offset in offsets.items()}
        found.append({place: gain for place, gain in gains.items() if abs(gain) >= LEAST_DB})
    return [gains for gains in found if gains]


def _chain(start: Place, neighbours: Mapping[Place, list[tuple[Place, float]]]) -> dict[Place, float]:
    """How much louder than the first each clip is that is linked with it, however far."""
    found, waiting = {start: 0.0}, [start]
    while waiting:
        place = waiting.pop()
        for other, step in neighbours[place]:
            if other not in found:
                found[other] = found[place] + step
                waiting.append(other)
    return found


def _usual(levels: Mapping[Place, float], lengths: Mapping[Place, int]) -> float | None:
    """The median of levels, each counted by the length of its clip; None where none is known."""
    half, passed = sum(lengths.get(place, 1) for place in levels) / 2, 0
    for place in sorted(levels, key=lambda place: levels[place]):
        passed += lengths.get(place, 1)
        if passed >= half:
            return levels[place]
    return None


def _nearest(
    offsets: Mapping[Place, float],
    usual: float | None,
    levels: Mapping[Place, float],
    lengths: Mapping[Place, int],
) -> float:
    """The offset at which the clips stay: nearest to the usual level; the longest together where as near."""
    rows = []
    for offset in sorted(set(offsets.values())):
        clips = [place for place in offsets if isclose(offsets[place], offset, abs_tol=LEAST_DB)]
        known = [(levels[place], lengths.get(place, 1)) for place in clips if place in levels]
        whole = sum(length for _, length in known)
        level = sum(level * length for level, length in known) / whole if whole else None
        far = 0.0 if usual is None or level is None else abs(level - usual)
        rows.append((round(far, 1), -sum(lengths.get(place, 1) for place in clips), offset))
    return min(rows)[2]
