"""A pause that an earlier run has opened, closed again on every track, through any host."""

from __future__ import annotations

from collections.abc import Iterable

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document.placing import append, detach
from mltassist.errors import NoSuchPlace
from mltassist.frames import format_timecode
from mltassist.hosts.base import Host, locked
from mltassist.hosts.following import move_all_else
from mltassist.hosts.groups import drop_places, move_links
from mltassist.hosts.nesting import all_played
from mltassist.hosts.parts import PRODUCERS, Parts
from mltassist.hosts.playlists import merge_blanks
from mltassist.hosts.reading import read
from mltassist.hosts.runs import later_pieces, play_on, run_across
from mltassist.timeline.changes import Change, EditPoint, Opened, name_of, pause_of
from mltassist.timeline.edits import ClosePause
from mltassist.timeline.model import Timeline, Track
from mltassist.timeline.moves import moves_of, runs_through


def close_pause(
    host: Host, parts: Parts, timeline: Element, edit: ClosePause, changes: Iterable[Change]
) -> list[Change]:
    """Take back a pause that is among these changes; gives the others.

    Raises NoSuchPlace where there is none, or something lies in it; TrackLocked.
    """
    at, by, left = edit.at, edit.length, list(changes)
    model = read(host, parts.document)
    opened = [c for c in left if isinstance(c, Opened) and c.length == by and pause_of(c, model) == at]
    where = format_timecode(at, parts.rate)
    if not opened:
        what = f"no pause of {by} frames that could be closed lies at {where}"
        raise NoSuchPlace(parts.document.path, what, "close it by hand")
    change = opened[-1]
    for track in model.tracks:
        if track.locked and track.end > at:
            raise locked(parts, next(s for s in host.strips(parts, timeline) if s.index == track.index))
    ran_on = _ran_on(model, change, at)
    split = {track.index for track in model.tracks if not track.ours and _was_split(track, change, at)}
    merged: set[int] = set()
    for strip in host.strips(parts, timeline):
        for playlist in strip.playlists:
            run = run_across(parts, playlist, at) if strip.index in ran_on else None
            if run is not None:
                longer = ran_on[strip.index]
                play_on(host, parts, run, at, -longer)
                _close_blank(parts, playlist, run.pieces[-1].span.end - longer, by - longer)
                continue
            _close_blank(parts, playlist, at, by)
            if strip.index in split and _merge(host, parts, playlist, at):
                merged.add(strip.index)
    moves = moves_of(edit, model)
    move_all_else(host, parts, timeline, moves)
    move_links(host, parts, timeline, moves.clip)
    drop_places(host, parts, timeline, {(track, at) for track in merged})
    left.remove(change)
    return left


def _ran_on(model: Timeline, change: Opened, at: int) -> dict[int, int]:
    """Numbers of the editor's tracks on which a clip has played on through the pause, and for how long."""
    tracks = [track.index for track in model.tracks if not track.ours]
    known = {(run.file, run.last): run.frames for run in change.runs}
    through = {
        track.index: (name_of(pieces[0]), pieces[0].source_frame(at - 1))
        for track, pieces, _ in runs_through(model, tracks, at)
    }
    return {index: known[name] for index, name in through.items() if name in known}


def _close_blank(parts: Parts, playlist: Element, at: int, by: int) -> None:
    """Take the empty frames of a pause out of a playlist, as far as it has any."""
    end = at + by
    for spot in list(parts.spots(playlist)):
        if spot.is_blank and spot.start < end and spot.span.end > at:
            inside = min(spot.span.end, end) - max(spot.start, at)
            if inside == spot.length:
                detach(spot.element)
            else:
                spot.element.set("length", parts.write(spot.length - inside))
    merge_blanks(parts, playlist)  # opening the pause may have left a blank in two


def _was_split(track: Track, change: Opened, at: int) -> bool:
    """True where the two halves of a clip that the pause has split lie at both of its ends."""
    until = at + change.length
    return any(
        EditPoint(name_of(one), one.source_frame(at - 1), name_of(other), other.source_frame(until))
        in change.splits
        for one in track.clips()
        for other in (track.clips() if one.span.end == at else ())
        if other.start == until
    )


def _merge(host: Host, parts: Parts, playlist: Element, at: int) -> bool:
    """Make one clip again of the two halves that meet at a frame; False where none do."""
    first = next((spot for spot in parts.spots(playlist) if spot.span.end == at and spot.length), None)
    second = None if first is None else next(iter(later_pieces(parts, playlist, first)), None)
    if first is None or second is None:
        return False
    homes = [host.filter_home(parts, spot.element) for spot in (first, second)]
    if homes[0] is not homes[1]:
        _join_filters(*homes)
    parts.set_range(first.element, first.first, first.length + second.length)
    detach(second.element)
    part = parts.get(second.element.get("producer"))
    played = all_played(parts.root)
    if part is not None and part.tag in PRODUCERS and part.get("id") not in played:
        parts.remove(part)
    return True


def _join_filters(first: Element, second: Element) -> None:
    """What hangs on the second half alone, such as its fade, hangs on the whole."""
    there = [etree.tostring(element, method="c14n") for element in first.iterchildren("filter")]
    for element in list(second.iterchildren("filter")):
        text = etree.tostring(element, method="c14n", with_tail=False)
        if text not in there and text.strip() not in {one.strip() for one in there}:
            detach(element)
            append(first, element)
