"""The demonstration film in shotcut's layout: plain playlists as tracks, a private chain per clip."""

from __future__ import annotations

import hashlib
from pathlib import PurePosixPath

from lxml import etree

from mltassist.demofilm.film import Film, Lane, Rush
from mltassist.demofilm.markup import add, clock, document_bytes, gapped, new_document, put

_TITLE = "Shotcut version 25.12"


def shotcut_document(film: Film) -> bytes:
    """The film with picture tracks first, then sound tracks, and its marks as timeline markers.

    The layout has no place for tags; they stand in each clip's comment, a semicolon list, with the
    rush's note on the line below. It has no bin folders that we know of, so these are left out.
    Raises KeyError for a placement of a file that is not among the rushes, TimeError when clips
    of a lane overlap.
    """
    root = new_document(film, title=_TITLE, producer="main_bin")
    for number, rush in enumerate(film.rushes):
        _add_chain(root, film, rush, f"chain{number}")
    main_bin = add(root, "playlist", {"xml_retain": 1}, id="main_bin", title=_TITLE)
    for number, rush in enumerate(film.rushes):
        last = clock(rush.length - 1, film.rate)
        add(main_bin, "entry", producer=f"chain{number}", in_=clock(0, film.rate), out=last)
    _add_background(root, film)
    lanes = [lane for lane in film.lanes if lane.picture] + [lane for lane in film.lanes if not lane.picture]
    for number, lane in enumerate(lanes):
        _add_track(root, film, number, lane)
    _add_main_tractor(root, film, lanes)
    return document_bytes(root)


def _add_chain(
    root: etree._Element, film: Film, rush: Rush, chain_id: str, streams: dict[str, object] | None = None
) -> None:
    properties: dict[str, object] = {
        "length": clock(rush.length, film.rate),
        "eof": "pause",
        "resource": rush.file,
        "mlt_service": "avformat-novalidate",
        "seekable": 1,
        **(streams or {}),
        # The host tells files apart by a digest; the name's is enough for media that never change.
        "shotcut:hash": hashlib.md5(
            PurePosixPath(rush.file).name.encode(), usedforsecurity=False
        ).hexdigest(),
        "shotcut:caption": rush.name,
    }
    comment = "\n".join(line for line in ("; ".join(rush.tags), rush.note) if line)
    if comment:
        properties["shotcut:comment"] = comment
    # A chain without `out` plays a single frame.
    add(root, "chain", properties, id=chain_id, out=clock(rush.length - 1, film.rate))


def _add_background(root: etree._Element, film: Film) -> None:
    first, last = clock(0, film.rate), clock(film.length - 1, film.rate)
    black: dict[str, object] = {
        "length": clock(film.length, film.rate),
        "eof": "pause",
        "resource": "0",
        "aspect_ratio": 1,
        "mlt_service": "color",
        "mlt_image_format": "rgba",
        "set.test_audio": 0,
    }
    add(root, "producer", black, id="black", in_=first, out=last)
    background = add(root, "playlist", id="background")
    add(background, "entry", producer="black", in_=first, out=last)


def _add_track(root: etree._Element, film: Film, number: int, lane: Lane) -> None:
    rushes = {rush.file: rush for rush in film.rushes}
    clips = list(gapped(lane.placements))
    for i, (_, spot) in enumerate(clips):
        _add_chain(root, film, rushes[spot.file], f"chain{number}_{i}", _silenced(lane, rushes[spot.file]))
    kind = "shotcut:video" if lane.picture else "shotcut:audio"
    playlist = add(root, "playlist", {kind: 1, "shotcut:name": lane.name}, id=f"playlist{number}")
    for i, (gap, spot) in enumerate(clips):
        if gap:
            add(playlist, "blank", length=clock(gap, film.rate))
        add(
            playlist,
            "entry",
            producer=f"chain{number}_{i}",
            in_=clock(spot.source_in, film.rate),
            out=clock(spot.source_in + spot.length - 1, film.rate),
        )


def _silenced(lane: Lane, rush: Rush) -> dict[str, object]:
    """The stream that the lane leaves out of a file that has it."""
    if not lane.sound and rush.sound:
        return {"audio_index": -1}
    if not lane.picture and rush.picture:
        return {"video_index": -1}
    return {}


def _add_main_tractor(root: etree._Element, film: Film, lanes: list[Lane]) -> None:
    first, last = clock(0, film.rate), clock(film.length - 1, film.rate)
    tractor = add(root, "tractor", id="tractor0", title=_TITLE, in_=first, out=last)
    put(
        tractor,
        {
            "shotcut": 1,
            "shotcut:projectAudioChannels": 2,
            "shotcut:projectFolder": 0,
            "shotcut:processingMode": "Native8Cpu",
        },
    )
    if film.marks:
        markers = add(tractor, "properties", name="shotcut:markers")
        for number, mark in enumerate(film.marks):
            at = clock(mark.at, film.rate)
            add(
                markers,
                "properties",
                {"text": mark.text, "start": at, "end": at, "color": "#008000"},
                name=str(number),
            )
    add(tractor, "track", producer="background")
    for number, lane in enumerate(lanes):
        hidden = {} if lane.picture else {"hide": "video"}
        add(tractor, "track", producer=f"playlist{number}", **hidden)
    for track, lane in enumerate(lanes, start=1):
        mix: dict[str, object] = {"a_track": 0, "b_track": track, "mlt_service": "mix"}
        add(tractor, "transition", mix | {"always_active": 1, "sum": 1}, id=f"mix{track}")
        if lane.picture:
            # Track 1 is the lowest picture; the host lays the others over it and keeps its own idle.
            ends: dict[str, object] = {"a_track": min(1, track - 1), "b_track": track}
            blend = {"mlt_service": "qtblend", "threads": 0, "disable": int(track == 1)}
            add(tractor, "transition", ends | blend, id=f"blend{track}")
