"""A pause opened on every track together, through any host."""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

from lxml.etree import _Element as Element

from mltassist.errors import NoSuchPlace
from mltassist.frames import format_timecode
from mltassist.hosts import playlists
from mltassist.hosts.base import Host, locked
from mltassist.hosts.dissolves import Half, dissolve_halves, shift_half
from mltassist.hosts.following import move_all_else
from mltassist.hosts.parts import PRODUCERS, Parts, Spot
from mltassist.hosts.reading import read
from mltassist.hosts.ripple import move_filters, trim_filters
from mltassist.hosts.sources import source_of
from mltassist.timeline.edits import OpenPause
from mltassist.timeline.model import Dissolve, Timeline


def open_pause(host: Host, parts: Parts, timeline: Element, edit: OpenPause) -> None:
    """Move everything from a frame on later; clips across it are split, or run on where the edit says so.

    Raises NoSuchPlace inside a dissolve, TrackLocked where a locked track would have to move.
    """
    at, by = edit.at, edit.length
    model = read(host, parts.document)
    for track in model.tracks:
        for item in track.items:
            if isinstance(item, Dissolve) and item.start < at < item.span.end:
                raise NoSuchPlace(
                    parts.document.path,
                    f"{format_timecode(at, parts.rate)} lies in a dissolve on track {track.index}",
                    "choose a place outside it",
                )
        if track.locked and track.end > at:
            raise locked(parts, next(s for s in host.strips(parts, timeline) if s.index == track.index))
    halves: set[int] = set()
    for strip in host.strips(parts, timeline):
        for playlist in strip.playlists:
            if strip.index in edit.run_on:
                _run_on(host, parts, playlist, at, by)
                continue
            if _split(host, parts, playlist, at):
                halves.add(strip.index)
            playlists.open_blank(parts, playlist, at, by)
    move_all_else(host, parts, timeline, at, by)
    host.move_links(parts, timeline, lambda track, start: (track, start + by if start >= at else start))
    for pair in model.linked:
        if all(track in halves and start < at for track, start in pair) and _across(model, pair, at):
            host.link(parts, timeline, tuple((track, at + by) for track, _ in pair))


def _across(model: Timeline, pair: tuple[tuple[int, int], ...], at: int) -> bool:
    """True when every clip of a linked pair lies across frame `at`."""
    return all(
        any(clip.start == start and at in clip.span for clip in model.track(track).clips())
        for track, start in pair
    )


def _split(host: Host, parts: Parts, playlist: Element, at: int) -> bool:
    """Make `at` a boundary; True when a clip was split there."""
    second = playlists.split(parts, playlist, at, partial(host.split_part, parts))
    if second is None:
        return False
    first = next(spot for spot in parts.spots(playlist) if spot.span.end == at and spot.length)
    for half in (first, second):
        for home in {half.element, host.filter_home(parts, half.element)}:
            trim_filters(parts, home, half.first, half.length)
    return True


def _follows(parts: Parts, half: Half, end: int, spot: Spot) -> bool:
    """True when an entry plays on what a half of a dissolve, or another entry, has played up to its `end`."""
    later = _piece(parts, spot)
    if later is None or source_of(parts, half.part) != source_of(parts, later.part):
        return False
    return later.first + _own_first(parts, later.part) == end + _own_first(parts, half.part)


def _own_first(parts: Parts, part: Element) -> int:
    """The frame of its source from which a part counts."""
    return parts.frames(part.get("in")) if part.tag in PRODUCERS else 0


def _piece(parts: Parts, spot: Spot) -> Half | None:
    part = parts.get(spot.element.get("producer"))
    return None if part is None or spot.is_blank else Half(spot.element, part, spot.first)


class _Run(NamedTuple):
    """A clip that plays on through a place, in the pieces it was cut into, nothing removed.

    pieces: from the one that lies at the place. ending: the half of the dissolve that they end in, and
    how long it lasts.
    """

    pieces: list[Spot]
    ending: tuple[Half, int] | None


def _run_across(parts: Parts, playlist: Element, at: int) -> _Run | None:
    """The run of clips that begins before frame `at` and ends after it, its dissolves counted in."""
    run: list[Spot] = []
    begins = 0
    into: tuple[Half, int] | None = None
    """What the dissolve just before brings in, and where in its source that ends."""
    for spot in (spot for spot in parts.spots(playlist) if spot.length):
        halves = dissolve_halves(parts, parts.get(spot.element.get("producer")))
        last = _piece(parts, run[-1]) if run else None
        end = run[-1].first + run[-1].length if run else 0
        if halves is not None:
            ends = last is not None and halves[0].first == end and _same(parts, halves[0], last)
            if run and begins < at < (spot if ends else run[-1]).span.end:
                return _Run(_from(run, at), (halves[0], spot.length) if ends else None)
            run, into, begins = [], (halves[1], halves[1].first + spot.length), spot.start
        elif last is not None and _follows(parts, last, end, spot):
            run.append(spot)
        elif run and run[-1].span.end > at:
            break
        elif spot.is_blank:
            run, into = [], None
        else:
            if into is None or run or not _follows(parts, *into, spot):
                begins = spot.start
            run, into = [spot], None
    return _Run(_from(run, at), None) if run and begins < at < run[-1].span.end else None


def _same(parts: Parts, one: Half, other: Half) -> bool:
    return source_of(parts, one.part) == source_of(parts, other.part)


def _from(run: list[Spot], at: int) -> list[Spot]:
    """The pieces from the one at a frame on; the last one where all end before."""
    return [spot for spot in run if spot.span.end > at] or run[-1:]


def _run_on(host: Host, parts: Parts, playlist: Element, at: int, by: int) -> None:
    """Let the clip across `at` play on; what its source lacks stays empty after it.

    Where it was cut with nothing removed, the pieces after the cut begin so much later in the source.
    """
    run = _run_across(parts, playlist, at)
    if run is None:
        _split(host, parts, playlist, at)
        playlists.open_blank(parts, playlist, at, by)
        return
    clip, last = run.pieces[0], run.pieces[-1]
    part = parts.get(last.element.get("producer"))
    spare = by
    if part is not None and (whole := source_of(parts, part).length):
        tail = 0 if run.ending is None else run.ending[1]
        spare = max(0, min(by, whole - (_own_first(parts, part) + last.first + last.length + tail)))
    if run.ending is not None:
        shift_half(parts, run.ending[0], spare)
    parts.set_range(clip.element, clip.first, clip.length + spare)
    for spot in run.pieces[1:]:
        parts.set_range(spot.element, spot.first + spare, spot.length)
    # At a cut the gap in the curves opens inside the clip, so that what holds for all of it still does.
    inside = min(max(1, at - clip.start), max(1, clip.length - 1))
    moved: list[Element] = []
    for spot, since in ((clip, clip.first + inside), *((spot, spot.first) for spot in run.pieces[1:])):
        home = host.filter_home(parts, spot.element)
        if home not in moved:
            move_filters(parts, home, since, spare)
            moved.append(home)
    if spare < by:
        playlists.open_blank(parts, playlist, last.span.end + spare, by - spare)
