"""Level curves of ours on clips, whole ones with their dissolves included; our gain on all that is heard."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document.placing import append, detach
from mltassist.hosts.base import Host
from mltassist.hosts.dissolves import Half, begins_in, dissolve_halves, half_after, own_part
from mltassist.hosts.levels import is_ours, volume_filter
from mltassist.hosts.parts import ROLE, Parts, Spot
from mltassist.hosts.sources import source_of
from mltassist.timeline.edits import FADE_DB, SetLevelCurve

Keys = list[tuple[int, float]]
FILM_GAIN = "film gain"
"""Role of the one gain on all that is heard."""


class ClipPiece(NamedTuple):
    """Frames of a clip, `start` to `start + length` of its playlist, whose filters hang on `home`.

    first: what `home` counts the first of them as.
    """

    home: Element
    start: int
    length: int
    first: int


def plays_source(parts: Parts, spot: Spot, source: str) -> bool:
    """True for a clip or a dissolve that plays a source; for any where none is named."""
    part = parts.get(spot.element.get("producer"))
    if spot.is_blank or not source:
        return not spot.is_blank
    halves = dissolve_halves(parts, part)
    played = [part] if halves is None else [half.part for half in halves]
    return any(each is not None and source_of(parts, each).key == source for each in played)


def hang_on_clip(host: Host, parts: Parts, spot: Spot, keys: Keys, role: str) -> None:
    """A volume filter on one entry; keys are (frame of the clip, dB)."""
    piece = ClipPiece(host.filter_home(parts, spot.element), spot.start, spot.length, spot.first)
    _hang(host, parts, piece, keys, role)


def fade_keys(length: int, gain_db: float, fade_in: int, fade_out: int) -> Keys:
    """A steady gain between two fades; where these are longer than the sound, each has its share of it."""
    last, both = length - 1, fade_in + fade_out
    if both > last:
        fade_in = last * fade_in // both
        fade_out = min(fade_out, last - fade_in)
    keys = {0: FADE_DB, fade_in: gain_db} if fade_in else {0: gain_db}
    if fade_out:
        keys |= {last - fade_out: gain_db, last: FADE_DB}
    return list(keys.items())


def hang_on_whole(host: Host, parts: Parts, spot: Spot, edit: SetLevelCurve, keys: Keys) -> None:
    """Volume filters on a clip and on the halves of the dissolves that it begins and ends with."""
    pieces = _merged(_pieces(host, parts, spot, edit.source))
    for piece in pieces:
        own = keys if len(pieces) == 1 else _within(keys, piece.start - spot.start, piece.length)
        _hang(host, parts, piece, own, edit.what)


def _pieces(host: Host, parts: Parts, spot: Spot, source: str) -> list[ClipPiece]:
    playlist = spot.element.getparent()
    if playlist is None:
        raise ValueError("the entry is in no playlist")
    found: list[ClipPiece] = []
    clip: Spot | None = spot
    halves = dissolve_halves(parts, parts.get(spot.element.get("producer")))
    if halves is not None:
        out, into = halves
        plays = [not source or source_of(parts, half.part).key == source for half in halves]
        clip = None
        if not plays[1] or (plays[0] and _is_cut_off(parts, playlist, spot)):
            found.append(_half_piece(host, parts, out, spot, None))
        if plays[1]:
            after = (other for other in parts.spots(playlist) if begins_in(parts, into, spot, other))
            clip = next(after, None)
            found.append(_half_piece(host, parts, into, spot, clip))
    if clip is not None:
        home = host.filter_home(parts, clip.element)
        found.append(ClipPiece(home, clip.start, clip.length, clip.first))
        if (end := half_after(parts, playlist, clip)) is not None:
            found.append(_half_piece(host, parts, *end, clip))
    return found


def _is_cut_off(parts: Parts, playlist: Element, dissolve: Spot) -> bool:
    """True where nothing leads into a dissolve: what goes out in it begins with it, as what comes in does."""
    before = next((spot for spot in parts.spots(playlist) if spot.span.end == dissolve.start), None)
    return before is None or before.is_blank or half_after(parts, playlist, before) is None


def _half_piece(host: Host, parts: Parts, half: Half, dissolve: Spot, clip: Spot | None) -> ClipPiece:
    """A half's filters hang on its part: on the clip's own, or on one that nothing else plays."""
    shared = clip is not None and host.filter_home(parts, clip.element) is half.part
    return ClipPiece(
        half.part if shared else own_part(parts, half), dissolve.start, dissolve.length, half.first
    )


def _merged(pieces: list[ClipPiece]) -> list[ClipPiece]:
    """Pieces that hang on one part and follow each other there are one."""
    found = pieces[:1]
    for piece in pieces[1:]:
        last = found[-1]
        if piece.home is last.home and piece.first == last.first + last.length:
            found[-1] = last._replace(length=last.length + piece.length)
        else:
            found.append(piece)
    return found


def _within(keys: Keys, start: int, length: int) -> Keys:
    """The part of a curve that lies on `length` frames from `start`, its frames counted from there."""
    last = start + length - 1
    ends = {frame: _level(keys, frame) for frame in (start, last)}
    inside = {frame: gain for frame, gain in keys if start < frame < last}
    return [(frame - start, gain) for frame, gain in sorted((ends | inside).items())]


def _level(keys: Keys, frame: int) -> float:
    """The level of a curve at a frame: straight in dB between its keys."""
    for (before, low), (after, high) in pairwise(keys):
        if before <= frame <= after:
            return low + (high - low) * (frame - before) / (after - before)
    return keys[0][1] if frame < keys[0][0] else keys[-1][1]


def _hang(host: Host, parts: Parts, piece: ClipPiece, keys: Keys, role: str) -> None:
    for element in list(piece.home.iterchildren("filter")):
        if is_ours(element, role):
            piece.home.remove(element)
    base = piece.first if host.keys_from_source else 0
    written = [(parts.write(base + frame), gain) for frame, gain in keys]
    element = volume_filter({**host.volume, ROLE: role}, written)
    if not host.keys_from_source:
        parts.set_range(element, piece.first, piece.length)
    _hang_volume(piece.home, element)


def set_film_gain(host: Host, timeline: Element, gain_db: float) -> None:
    """A volume filter without range on the timeline itself, in place of an earlier one."""
    drop_film_gain(timeline)
    _hang_volume(timeline, volume_filter({**host.volume, ROLE: FILM_GAIN}, [("", gain_db)]))


def drop_film_gain(timeline: Element) -> None:
    """Take it away."""
    for element in list(timeline.iterchildren("filter")):
        if is_ours(element, FILM_GAIN):
            detach(element)


def _hang_volume(home: Element, element: Element) -> None:
    """Add a volume filter after all that hangs there already."""
    append(home, element)
    etree.indent(element, " ")
