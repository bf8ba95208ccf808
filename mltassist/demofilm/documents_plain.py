"""The demonstration film as plain MLT XML: times in frames, no host's conventions.

Plain MLT has no notion of names, bin folders, tags or markers; these go into properties of our own
namespace, ``mltassist:``.
"""

from __future__ import annotations

import json

from lxml import etree

from mltassist.demofilm.film import Film, Lane
from mltassist.demofilm.markup import add, document_bytes, gapped, new_document


def plain_document(film: Film) -> bytes:
    """The film as one document with a producer per media file and a playlist per lane.

    Raises KeyError for a placement of a file that is not among the rushes, TimeError when clips
    of a lane overlap.
    """
    root = new_document(film)
    ids = _add_rushes(root, film)
    for number, lane in enumerate(film.lanes):
        playlist = add(root, "playlist", {"mltassist:name": lane.name}, id=f"lane{number}")
        for gap, spot in gapped(lane.placements):
            if gap:
                add(playlist, "blank", length=str(gap))
            last = spot.source_in + spot.length - 1
            add(playlist, "entry", producer=ids[spot.file], in_=str(spot.source_in), out=str(last))
    _add_main_tractor(root, film)
    return document_bytes(root)


def _add_rushes(root: etree._Element, film: Film) -> dict[str, str]:
    """One producer per file, and the bin that lists them; gives the producers' ids by file."""
    ids = {rush.file: f"producer{number}" for number, rush in enumerate(film.rushes)}
    for rush in film.rushes:
        properties: dict[str, object] = {
            "length": rush.length,
            "eof": "pause",
            "resource": rush.file,
            "mlt_service": "avformat",
            "mltassist:name": rush.name,
        }
        if rush.folder:
            properties["mltassist:folder"] = rush.folder
        if rush.tags:
            properties["mltassist:tags"] = ";".join(rush.tags)
        if rush.note:
            properties["mltassist:note"] = rush.note
        add(root, "producer", properties, id=ids[rush.file], in_="0", out=str(rush.length - 1))
    main_bin = add(root, "playlist", {"xml_retain": 1}, id="main_bin")
    for rush in film.rushes:
        add(main_bin, "entry", producer=ids[rush.file], in_="0", out=str(rush.length - 1))
    return ids


def _add_main_tractor(root: etree._Element, film: Film) -> None:
    last = str(film.length - 1)
    add(
        root,
        "producer",
        {"length": film.length, "eof": "pause", "resource": "black", "mlt_service": "color"},
        id="black",
        in_="0",
        out=last,
    )
    markers = [{"at": mark.at, "text": mark.text} for mark in film.marks]
    tractor = add(
        root,
        "tractor",
        {"mltassist:guides": json.dumps(markers, ensure_ascii=False)},
        id="main",
        title=film.title,
        in_="0",
        out=last,
    )
    add(tractor, "track", producer="black")
    for number, lane in enumerate(film.lanes):
        add(tractor, "track", producer=f"lane{number}", **_hidden(lane))
    for track, lane in enumerate(film.lanes, start=1):
        both: dict[str, object] = {"a_track": 0, "b_track": track, "always_active": 1}
        if lane.sound:
            add(tractor, "transition", {"mlt_service": "mix", "sum": 1} | both)
        if lane.picture:
            add(tractor, "transition", {"mlt_service": "qtblend", "compositing": 0, "distort": 0} | both)


def _hidden(lane: Lane) -> dict[str, str]:
    if lane.picture and lane.sound:
        return {}
    return {"hide": "audio" if lane.picture else "video"}
