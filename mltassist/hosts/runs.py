"""Clips of a playlist that were cut with nothing removed: they play on from piece to piece."""

from __future__ import annotations

from typing import NamedTuple

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.hosts.base import Host
from mltassist.hosts.dissolves import Half, dissolve_halves, own_part, shift_half
from mltassist.hosts.parts import PRODUCERS, Parts, Spot
from mltassist.hosts.ripple import move_filters
from mltassist.hosts.sources import source_of
from mltassist.timeline.model import Source


def later_pieces(parts: Parts, playlist: Element, clip: Spot) -> list[Spot]:
    """The entries after one that play on from it, each from the one before."""
    found = [clip]
    for spot in (spot for spot in parts.spots(playlist) if spot.length and spot.start >= clip.span.end):
        last = _piece(parts, found[-1])
        if last is None or not _goes_on(parts, last, last.first + found[-1].length, _piece(parts, spot)):
            break
        found.append(spot)
    return found[1:]


def _goes_on(parts: Parts, half: Half, end: int, later: Half | None) -> bool:
    """True when a piece plays on what the one before it has played up to its frame `end`."""
    if later is None or _played(parts, half.part) != _played(parts, later.part):
        return False
    return later.first + own_first(parts, later.part) == end + own_first(parts, half.part)


def _played(parts: Parts, part: Element) -> tuple[Source, str | None]:
    """What a part plays, and how fast where it is changed."""
    return source_of(parts, part), properties.get(part, "warp_speed")


def own_first(parts: Parts, part: Element) -> int:
    """The frame of its source from which a part counts."""
    return parts.begins(part) if part.tag in PRODUCERS else 0


def _piece(parts: Parts, spot: Spot) -> Half | None:
    part = parts.get(spot.element.get("producer"))
    return None if part is None or spot.is_blank else Half(spot.element, part, spot.first)


class Pieces(NamedTuple):
    """A clip that plays on through a place, in the pieces it was cut into, nothing removed.

    pieces: from the one that lies at the place. ending: the half of the dissolve that they end in, and
    how long it lasts.
    """

    pieces: list[Spot]
    ending: tuple[Half, int] | None


def run_across(parts: Parts, playlist: Element, at: int) -> Pieces | None:
    """The run of clips that begins before frame `at` and ends after it, its dissolves counted in."""
    run: list[Spot] = []
    begins = 0
    # What the dissolve just before brings in, and where in its source that ends.
    into: tuple[Half, int] | None = None
    for spot in (spot for spot in parts.spots(playlist) if spot.length):
        halves = dissolve_halves(parts, parts.get(spot.element.get("producer")))
        last = _piece(parts, run[-1]) if run else None
        end = run[-1].first + run[-1].length if run else 0
        if halves is not None:
            ends = last is not None and _goes_on(parts, last, end, halves[0])
            if run and begins < at < (spot if ends else run[-1]).span.end:
                return Pieces(_from(run, at), (halves[0], spot.length) if ends else None)
            run, into, begins = [], (halves[1], halves[1].first + spot.length), spot.start
        elif last is not None and _goes_on(parts, last, end, _piece(parts, spot)):
            run.append(spot)
        elif run and run[-1].span.end > at:
            break
        elif spot.is_blank:
            run, into = [], None
        else:
            if into is None or run or not _goes_on(parts, *into, _piece(parts, spot)):
                begins = spot.start
            run, into = [spot], None
    return Pieces(_from(run, at), None) if run and begins < at < run[-1].span.end else None


def _from(run: list[Spot], at: int) -> list[Spot]:
    """The pieces from the one at a frame on; the last one where all end before."""
    return [spot for spot in run if spot.span.end > at] or run[-1:]


def play_on(host: Host, parts: Parts, run: Pieces, at: int, by: int) -> None:
    """Let a run play `by` frames longer through frame `at`, or with `by` below zero so much shorter.

    Where it was cut with nothing removed, the pieces after the cut begin so much later in the source, and so
    does the half of a dissolve that it ends in. Filters follow.
    """
    if not by:
        return
    clip, shorter = run.pieces[0], max(0, -by)
    if run.ending is not None:
        shift_half(parts, run.ending[0], by)
    parts.set_range(clip.element, clip.first, clip.length + by)
    for spot in run.pieces[1:]:
        parts.set_range(spot.element, spot.first + by, spot.length)
    # At a cut the gap in the curves lies inside the clip, so that what holds for all of it still does.
    inside = min(max(1, at - clip.start), max(1, clip.length - shorter - 1))
    moved = move_run_filters(host, parts, run.pieces, clip.first + inside + shorter, by)
    if run.ending is not None and run.ending[0].part not in moved:
        half, _ = run.ending  # as it was before it was shifted
        move_filters(parts, own_part(parts, half), half.first, by)


def move_run_filters(host: Host, parts: Parts, pieces: list[Spot], since: int, by: int) -> list[Element]:
    """Filters follow a run that lasts longer: from frame `since` of its first piece, of all of the others.

    What they hang on is given back; pieces may share it, and its filters move once.
    """
    moved: list[Element] = []
    for number, spot in enumerate(pieces):
        home = host.filter_home(parts, spot.element)
        if home not in moved:
            move_filters(parts, home, spot.first if number else since, by)
            moved.append(home)
    return moved
