"""A pause opened on every track together, through any host."""

from __future__ import annotations

from functools import partial

from lxml.etree import _Element as Element

from mltassist.errors import NoSuchPlace
from mltassist.frames import format_timecode
from mltassist.hosts import playlists
from mltassist.hosts.base import Host, locked
from mltassist.hosts.following import move_all_else
from mltassist.hosts.groups import link, move_links
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import read
from mltassist.hosts.ripple import trim_filters
from mltassist.hosts.runs import play_on, run_across
from mltassist.timeline.changes import EditPoint, Opened, RunOn, name_of, side_of
from mltassist.timeline.edits import OpenPause
from mltassist.timeline.model import Dissolve, Timeline
from mltassist.timeline.moves import moves_of, runs_through


def open_pause(host: Host, parts: Parts, timeline: Element, edit: OpenPause) -> Opened:
    """Move everything from a frame on later; clips across it are split, or run on where the edit says so.

    Gives what it has done, for who takes it back.

    Raises NoSuchPlace inside a dissolve, TrackLocked where a locked track would have to move.
    """
    at, by = edit.at, edit.length
    model = read(host, parts.document)
    spare = {track.index: min(by, frames) for track, _, frames in runs_through(model, edit.run_on, at)}
    for track in model.tracks:
        for item in track.items:
            if isinstance(item, Dissolve) and item.start < at < item.span.end:
                raise NoSuchPlace(
                    parts.document.path,
                    f"{format_timecode(at, parts.rate)} lies in a dissolve on track {track.name!r}",
                    "choose a place outside it",
                )
        if track.locked and track.end > at:
            raise locked(parts, next(s for s in host.strips(parts, timeline) if s.index == track.index))
    halves: set[int] = set()
    for strip in host.strips(parts, timeline):
        for playlist in strip.playlists:
            run = run_across(parts, playlist, at) if strip.index in spare else None
            if run is not None:
                longer = spare[strip.index]
                play_on(host, parts, run, at, longer)
                if longer < by:  # what its source lacks stays empty after it
                    playlists.open_blank(parts, playlist, run.pieces[-1].span.end + longer, by - longer)
                continue
            if _split(host, parts, playlist, at):
                halves.add(strip.index)
            playlists.open_blank(parts, playlist, at, by)
    moves = moves_of(edit, model)
    move_all_else(host, parts, timeline, moves)
    move_links(host, parts, timeline, moves.clip)
    for pair in model.linked:
        if all(track in halves and start < at for track, start in pair) and _across(model, pair, at):
            link(host, parts, timeline, tuple((track, at + by) for track, _ in pair))
    return _change(model, edit)


def _change(model: Timeline, edit: OpenPause) -> Opened:
    """What a pause does to the film as it was."""
    at, sides, splits = edit.at, dict[EditPoint, None](), dict[EditPoint, None]()
    runs = {
        RunOn(name_of(pieces[0]), pieces[0].source_frame(at - 1), min(edit.length, spare))
        for _, pieces, spare in runs_through(model, edit.run_on, at)
    }
    for track in model.tracks:
        if track.ours or track.index in edit.run_on:
            continue
        for clip in track.clips():
            if clip.start < at < clip.span.end:
                side = EditPoint(
                    name_of(clip), clip.source_frame(at - 1), name_of(clip), clip.source_frame(at)
                )
                sides[side] = splits[side] = None
            sides |= {
                side_of(clip, other): None for other in track.clips() if clip.span.end == at == other.start
            }
    return Opened(at, edit.length, tuple(sides), tuple(splits), tuple(sorted(runs)))


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
