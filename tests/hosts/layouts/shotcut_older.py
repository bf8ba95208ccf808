"""shotcut 18.06, 20 and 24: a private producer or chain per clip, a plain playlist per track."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from lxml import etree

from mltassist.demofilm.film import Film, Rush
from mltassist.demofilm.markup import add, clock, document_bytes, gapped, new_document, put
from tests.hosts.layouts.parts import BLACK, Half, Properties, by_file, last_frame, only_stream, picture_first


@dataclass(frozen=True, slots=True)
class Release:
    """What differs between the versions.

    comma: clock times and decimals as a Czech locale writes them. bin: id of the bin's playlist.
    clip: element of a file. black: resource of the background.
    """

    version: str
    bin: str = "main_bin"
    clip: str = "producer"
    black: str = "0"
    comma: bool = False
    framed: bool = True


V18 = Release("18.06.02", "main bin", black=BLACK, comma=True, framed=False)
V20 = Release("20.09.27")
V24 = Release("24.04.28", clip="chain")


def shotcut_1806(film: Film) -> bytes:
    """Version 18.06 in a comma locale: the main tractor says neither `in` nor `out`."""
    return document_bytes(shotcut_root(film, V18))


def shotcut_20(film: Film) -> bytes:
    """Version 20: files are producers."""
    return document_bytes(shotcut_root(film, V20))


def shotcut_24(film: Film) -> bytes:
    """Version 24: files are chains."""
    return document_bytes(shotcut_root(film, V24))


def at(film: Film, release: Release, frame: int) -> str:
    """A clock time as the release writes it."""
    text = clock(frame, film.rate)
    return text.replace(".", ",") if release.comma else text


def clip_id(release: Release, track: int, number: int) -> str:
    """Id of the producer of clip `number` on track `track`, both from 0, pictures first."""
    return f"{release.clip}{track}_{number}"


def shotcut_root(film: Film, release: Release) -> etree._Element:
    """The film's tree."""
    title = f"Shotcut version {release.version}"
    locale = "cs_CZ" if release.comma else "C"
    root = new_document(film, title=title, producer=release.bin, LC_NUMERIC=locale)
    for number, rush in enumerate(film.rushes):
        add_clip(root, film, release, rush, f"{release.clip}{number}")
    listed = add(root, "playlist", {"xml_retain": 1}, id=release.bin, title=title)
    for number, rush in enumerate(film.rushes):
        span = span_of(film, release, 0, rush.length - 1)
        add(listed, "entry", producer=f"{release.clip}{number}", **span)
    whole = span_of(film, release, 0, film.length - 1)
    black: Properties = {
        "length": at(film, release, film.length),
        "eof": "pause",
        "resource": release.black,
        "aspect_ratio": 1,
        "mlt_service": "color",
        "set.test_audio": 0,
    }
    add(root, "producer", black, id=BLACK, **whole)
    add(add(root, "playlist", id="background"), "entry", producer=BLACK, **whole)
    halves = picture_first(film)
    for number, half in enumerate(halves):
        _add_track(root, film, release, number, half)
    _add_main_tractor(root, title, whole if release.framed else {}, halves)
    return root


def span_of(film: Film, release: Release, first: int, last: int) -> dict[str, str]:
    """Attributes ``in`` and ``out`` as the release writes them."""
    return {"in_": at(film, release, first), "out": at(film, release, last)}


def add_clip(
    root: etree._Element,
    film: Film,
    release: Release,
    rush: Rush,
    identity: str,
    *,
    streams: Properties | None = None,
) -> etree._Element:
    """A producer or chain of a file; chains have no ``in``."""
    properties: Properties = {
        "length": at(film, release, rush.length),
        "eof": "pause",
        "resource": rush.file,
        "mlt_service": "avformat-novalidate",
        "seekable": 1,
        **(streams or {}),
        "shotcut:hash": hashlib.md5(rush.file.encode(), usedforsecurity=False).hexdigest(),
        "shotcut:caption": rush.name,
        "shotcut:detail": rush.file,
        "xml": "was here",
    }
    if rush.note:
        properties["shotcut:comment"] = rush.note
    span = span_of(film, release, 0, rush.length - 1)
    if release.clip == "chain":
        del span["in_"]
    return add(root, release.clip, properties, id=identity, **span)


def _add_track(root: etree._Element, film: Film, release: Release, number: int, half: Half) -> None:
    rushes, clips = by_file(film), list(gapped(half.spots))
    for i, (_, spot) in enumerate(clips):
        rush = rushes[spot.file]
        add_clip(root, film, release, rush, clip_id(release, number, i), streams=only_stream(half, rush))
    kind = "shotcut:audio" if half.sound else "shotcut:video"
    playlist = add(root, "playlist", {kind: 1, "shotcut:name": half.name}, id=f"playlist{number}")
    for i, (gap, spot) in enumerate(clips):
        if gap:
            add(playlist, "blank", length=at(film, release, gap))
        span = span_of(film, release, spot.source_in, last_frame(spot))
        add(playlist, "entry", producer=clip_id(release, number, i), **span)


def _add_main_tractor(root: etree._Element, title: str, span: dict[str, str], halves: list[Half]) -> None:
    # Dissolves are tractors too, and come before this one.
    tractor = add(root, "tractor", id="tractor9", title=title, global_feed="1", **span)
    put(tractor, {"shotcut": 1, "shotcut:scaleFactor": 1, "shotcut:trackHeight": 50})
    put(tractor, {"shotcut:projectAudioChannels": 2, "shotcut:projectFolder": 0})
    add(tractor, "track", producer="background")
    for number, half in enumerate(halves):
        hidden = {"hide": "video"} if half.sound else {}
        add(tractor, "track", producer=f"playlist{number}", **hidden)
    for track, half in enumerate(halves, start=1):
        mix: Properties = {"a_track": 0, "b_track": track, "mlt_service": "mix"}
        add(tractor, "transition", mix | {"always_active": 1, "sum": 1}, id=f"transition{2 * track}")
        if not half.sound:
            blend: Properties = {
                "a_track": min(1, track - 1),
                "b_track": track,
                "version": 0.9,
                "mlt_service": "frei0r.cairoblend",
                "threads": 0,
                "disable": int(track == 1),
            }
            add(tractor, "transition", blend, id=f"transition{2 * track + 1}")
