"""Moving a join by a few frames: both of its clips, and what follows on every track."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial

from lxml.etree import _Element as Element

from mltassist.document import keyframes
from mltassist.document.placing import detach
from mltassist.errors import NoSuchPlace
from mltassist.frames import format_timecode
from mltassist.hosts.base import Host, Strip, locked
from mltassist.hosts.following import move_all_else
from mltassist.hosts.groups import move_links
from mltassist.hosts.parts import PRODUCERS, Parts, Spot
from mltassist.hosts.records import file_name
from mltassist.hosts.ripple import change_keys
from mltassist.hosts.runs import later_pieces, move_run_filters, own_first
from mltassist.hosts.sources import source_of
from mltassist.timeline.changes import EditPoint
from mltassist.timeline.edits import NudgeJoin
from mltassist.timeline.moves import moves_of, moves_of_all


def nudge_joins(
    host: Host, parts: Parts, timeline: Element, edits: Iterable[NudgeJoin]
) -> Iterator[tuple[NudgeJoin, tuple[EditPoint, ...], tuple[EditPoint, ...]]]:
    """Carry out the edits in order, and give each with the sides of its join before and after it.

    Raises TrackLocked or NoSuchPlace where a track cannot follow. Groups name all clips of a film by their
    places: they are written once, when all joins have moved.
    """
    done = []
    for edit in edits:
        before = _sides_on(host, parts, timeline, edit, edit.at)
        _nudge_join(host, parts, timeline, edit)
        done.append(edit)
        yield edit, before, _sides_on(host, parts, timeline, edit, edit.joined_at)
    move_links(host, parts, timeline, moves_of_all(done).clip)


def _sides_on(host: Host, parts: Parts, timeline: Element, edit: NudgeJoin, at: int) -> tuple[EditPoint, ...]:
    """What meets at a join, on each of its tracks, each way once."""
    found: dict[EditPoint, None] = {}
    for strip in host.strips(parts, timeline):
        for playlist in strip.playlists if strip.index in edit.tracks else ():
            if (pair := _sides(parts, playlist, at)) is not None:
                before, after = (_played(parts, spot) for spot in pair)
                found[EditPoint(before[0], before[1] + pair[0].length - 1, *after)] = None
    return tuple(found)


def _played(parts: Parts, spot: Spot) -> tuple[str, int]:
    """The file that a clip plays, and its first frame of that."""
    part = parts.get(spot.element.get("producer"))
    if part is None:
        return "", spot.first
    return file_name(source_of(parts, part).key), spot.first + own_first(parts, part)


def _nudge_join(host: Host, parts: Parts, timeline: Element, edit: NudgeJoin) -> None:
    at, by = edit.at, edit.shift
    strips = host.strips(parts, timeline)
    for strip in strips:
        if strip.locked and (strip.index in edit.tracks or (by and _lies_after(parts, strip, at))):
            raise locked(parts, strip)
    for strip in strips:
        joined = strip.index in edit.tracks
        moved = [_move_join(host, parts, p, edit) for p in strip.playlists] if joined else [True]
        if not any(moved):
            raise _refused(parts, at, f"no two clips meet on track {strip.name!r} at")
        for playlist in strip.playlists if by else ():
            if not (joined and _sides(parts, playlist, edit.joined_at)):
                _follow(host, parts, playlist, at, by)
    if by:
        move_all_else(host, parts, timeline, moves_of(edit))


def _lies_after(parts: Parts, strip: Strip, at: int) -> bool:
    """True when something of a track lies after a frame."""
    return any(
        spot.span.end > at and not spot.is_blank
        for playlist in strip.playlists
        for spot in parts.spots(playlist)
    )


def _sides(parts: Parts, playlist: Element, at: int) -> tuple[Spot, Spot] | None:
    """The two entries that meet at a frame of a playlist."""
    before: Spot | None = None
    for spot in parts.spots(playlist):
        if spot.start > at:
            break
        ends, begins = spot.start + spot.length == at, spot.start == at
        if not (ends or begins) or spot.is_blank or not spot.length:
            continue
        if ends:
            before = before or spot
        else:
            return None if before is None else (before, spot)
    return None


def _move_join(host: Host, parts: Parts, playlist: Element, edit: NudgeJoin) -> bool:
    """Move the end of one entry and the beginning of the next; False where none meet here."""
    found = _sides(parts, playlist, edit.at)
    if found is None:
        return False
    before, after = found
    longer = before._replace(length=before.length + edit.before_by)
    later = after._replace(first=after.first + edit.after_by, length=after.length - edit.after_by)
    for spot in (longer, later):
        _need_frames(parts, spot, edit.at)
        parts.set_range(spot.element, spot.first, spot.length)
    last = before.first + before.length - 1
    _move_end(parts, host.filter_home(parts, before.element), before.first, last, edit.before_by)
    _move_beginning(parts, host.filter_home(parts, after.element), after, edit.after_by)
    return True


def _need_frames(parts: Parts, spot: Spot, at: int) -> None:
    part = parts.get(spot.element.get("producer"))
    whole = parts.length_of(part) if part is not None and part.tag in PRODUCERS else 0
    if spot.length < 1 or spot.first < 0 or (whole and spot.first + spot.length > whole):
        raise _refused(parts, at, "a clip has too few frames at")


def _move_end(parts: Parts, home: Element, first: int, last: int, by: int) -> None:
    """What reaches to the last frame of a clip reaches to its new one; what only ends there moves along."""
    for element in home.iterchildren("filter"):
        out = element.get("out")
        if out is None or parts.frames(out) != last:
            continue
        element.set("out", parts.write(last + by))
        begins = parts.frames(element.get("in"))
        if begins > first:
            element.set("in", parts.write(max(first, begins + by)))


def _move_beginning(parts: Parts, home: Element, spot: Spot, by: int) -> None:
    """What begins with a clip begins with it still; keys stay on the frames of the source they were on."""
    last = spot.first + spot.length - 1
    for element in home.iterchildren("filter"):
        begins, out = element.get("in"), element.get("out")
        if begins is None or parts.frames(begins) != spot.first:
            continue
        if out is not None and parts.frames(out) < last:  # a fade
            element.set("in", parts.write(spot.first + by))
            element.set("out", parts.write(min(last, parts.frames(out) + by)))
            continue
        animated = [p for p in element.iterchildren("property") if keyframes.is_animated(p.text or "")]
        if animated and by > 0:
            continue  # it may begin before its clip does; moving it would move its keys
        for child in animated:
            change_keys(parts, child, partial(keyframes.shift, rate=parts.rate, at=0, by=-by))
        element.set("in", parts.write(spot.first + by))


def _follow(host: Host, parts: Parts, playlist: Element, at: int, by: int) -> None:
    """Let what lies at `at` on another track play `by` frames longer, so that all after it moves."""
    spots = [spot for spot in parts.spots(playlist) if spot.length]
    number = next((n for n, spot in enumerate(spots) if spot.start < at <= spot.span.end), None)
    if number is None or (spots[number].span.end == at and number + 1 == len(spots)):
        return  # nothing of this track lies later
    choices = [spots[number]]
    if spots[number].span.end == at and spots[number + 1].is_blank:
        choices.insert(0, spots[number + 1])
    for spot in choices:
        if spot.is_blank and spot.length + by >= 0:
            if spot.length + by:
                spot.element.set("length", parts.write(spot.length + by))
            else:
                detach(spot.element)
            return
    clip = spots[number]
    if clip.is_blank:
        raise _refused(parts, at, "there is too little room at")
    # Where it was cut with nothing removed, what follows the cut begins so much later in the source.
    later = later_pieces(parts, playlist, clip)
    longer = clip._replace(length=clip.length + by)
    for spot in (longer, *(spot._replace(first=spot.first + by) for spot in later)):
        _need_frames(parts, spot, at)
        parts.set_range(spot.element, spot.first, spot.length)
    move_run_filters(host, parts, [clip, *later], clip.first + at - clip.start, by)


def _refused(parts: Parts, at: int, why: str) -> NoSuchPlace:
    where = format_timecode(at, parts.rate)
    return NoSuchPlace(parts.document.path, f"{why} {where}", "mend this join by hand")
