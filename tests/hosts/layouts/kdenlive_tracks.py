"""kdenlive 0.99 to 1.04: clock times, a tractor of two playlists per track, sound and picture apart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lxml import etree

from mltassist.demofilm.film import Film, Rush
from mltassist.demofilm.markup import add, clock, document_bytes, gapped, json_text, new_document, put
from tests.hosts.layouts.parts import BLACK, Half, Properties, by_file, ends, folder_ids, last_frame, split

FIRST_CLIP = 10
BEYOND = 30000
"""Frames by which the timeline's `out` lies past the content."""
_ADDED: Properties = {"internal_added": 237, "always_active": 1}


@dataclass(frozen=True, slots=True)
class Release:
    """What differs between the versions of this family.

    hides: `hide` of the two playlists of picture tracks, taken in turn; only the first of a pair counts.
    typed: the clips say whether they have picture, sound or both. preview: the host's own track of
    rendered previews lies above the user's.
    """

    version: str
    saved_by: str
    hides: tuple[tuple[str, str], ...] = (("audio", "audio"),)
    typed: bool = False
    blend: str = "qtblend"
    preview: bool = False


V099 = Release("0.99", "19.12.3")
V1 = Release("1", "20.12.3", (("audio", "both"), ("audio", ""), ("", "both")))
V101 = Release("1.01", "21.08.3", typed=True)
V104 = Release("1.04", "22.08.3", (("", ""), ("audio", "audio")), True, "frei0r.cairoblend", True)


def kdenlive_099(film: Film) -> bytes:
    """Version 0.99."""
    return document_bytes(tracks_root(film, V099))


def kdenlive_1(film: Film) -> bytes:
    """Version 1: the playlists of one track are hidden unequally."""
    return document_bytes(tracks_root(film, V1))


def kdenlive_101(film: Film) -> bytes:
    """Version 1.01."""
    return document_bytes(tracks_root(film, V101))


def kdenlive_104(film: Film) -> bytes:
    """Version 1.04: a preview track on top, and a picture track without any `hide`."""
    return document_bytes(tracks_root(film, V104))


def track_number(film: Film, name: str, *, sound: bool) -> int:
    """Which track plays that half of a lane; 0 is the one above black. Playlists: twice that, and one on."""
    return next(i for i, half in enumerate(split(film)) if half.name == name and half.sound == sound)


def tracks_root(film: Film, release: Release) -> etree._Element:
    """The film's tree."""
    root = new_document(film, producer="main_bin", version="6.26.1")
    for number, rush in enumerate(film.rushes):
        properties = clip_properties(film, rush, release)
        add(root, "producer", properties, id=f"producer{number}", **ends(film, 0, rush.length - 1))
    _add_bin(root, film, release)
    black: Properties = {
        "length": 2147483647,
        "eof": "continue",
        "resource": BLACK,
        "aspect_ratio": 1,
        "mlt_service": "color",
        "set.test_audio": 0,
    }
    if release.typed:
        black["mlt_image_format"] = "rgba"
    whole = ends(film, 0, film.length - 1 + BEYOND)
    add(root, "producer", black, id="black_track", **whole)
    halves = split(film)
    for number, half in enumerate(halves):
        _add_track(root, film, number, half, release)
    if release.preview:
        add(root, "playlist", id="timeline_preview")
    tractor = add(root, "tractor", id=f"tractor{len(halves)}", global_feed="1", **whole)
    add(tractor, "track", producer="black_track")
    for number in range(len(halves)):
        add(tractor, "track", producer=f"tractor{number}")
    if release.preview:
        add(tractor, "track", hide="both", producer="timeline_preview")
    for number, half in enumerate(halves):
        _add_blending(tractor, number, half, release)
    return root


def clip_properties(film: Film, rush: Rush, release: Release) -> Properties:
    """The bin clip of a rush; its copies on the tracks have these and more."""
    properties: Properties = {
        "length": rush.length,
        "eof": "pause",
        "resource": rush.file,
        "mlt_service": "avformat-novalidate",
        "seekable": 1,
        "kdenlive:id": FIRST_CLIP + film.rushes.index(rush),
        "kdenlive:clipname": rush.name,
        "kdenlive:folderid": folder_ids(film).get(rush.folder, -1),
        "kdenlive:duration": clock(rush.length, film.rate),
        "kdenlive:originalurl": rush.file,
    }
    if release.typed:
        kind = 0 if rush.picture and rush.sound else 1 if rush.sound else 2
        properties |= {"kdenlive:clip_type": kind, "kdenlive:audio_max0": 2}
    return properties


def _add_bin(root: etree._Element, film: Film, release: Release) -> None:
    playlist = add(root, "playlist", id="main_bin")
    put(playlist, {f"kdenlive:folder.-1.{number}": name for name, number in folder_ids(film).items()})
    settings: Properties = {
        "version": release.version,
        "kdenliveversion": release.saved_by,
        "profile": "custom",
        "documentid": 1580000000000,
        "activeTrack": len(split(film)) - 1,
        "audioTarget": -1,
        "enableproxy": 0,
        "groups": json_text(list(_groups(film))),
        "guides": json_text([{"comment": mark.text, "pos": mark.at, "type": 0} for mark in film.marks]),
    }
    put(playlist, {f"kdenlive:docproperties.{name}": text for name, text in settings.items()})
    put(playlist, {"xml_retain": 1})
    for number, rush in enumerate(film.rushes):
        add(playlist, "entry", producer=f"producer{number}", **ends(film, 0, rush.length - 1))


def _groups(film: Film) -> Iterator[Properties]:
    """A pair for each clip with both halves on the timeline; the leaves count from the track above black."""
    for lane in film.lanes:
        if not (lane.picture and lane.sound):
            continue
        tracks = [track_number(film, lane.name, sound=sound) for sound in (False, True)]
        for spot in lane.placements:
            leaves = [{"data": f"{track}:{spot.start}", "leaf": "clip", "type": "Leaf"} for track in tracks]
            yield {"type": "AVSplit", "children": leaves}


def _add_track(root: etree._Element, film: Film, number: int, half: Half, release: Release) -> None:
    rushes = by_file(film)
    use = {"set.test_audio": int(not half.sound), "set.test_image": int(half.sound)}
    copies = {
        file: f"producer{number}_{i}" for i, file in enumerate(dict.fromkeys(s.file for s in half.spots))
    }
    for file, copy in copies.items():
        properties = clip_properties(film, rushes[file], release) | use
        add(root, "producer", properties, id=copy, **ends(film, 0, rushes[file].length - 1))
    kind: Properties = {"kdenlive:audio_track": 1} if half.sound else {}
    playlist = add(root, "playlist", kind, id=f"playlist{2 * number}")
    for gap, spot in gapped(half.spots):
        if gap:
            add(playlist, "blank", length=clock(gap, film.rate))
        own: Properties = {"kdenlive:id": FIRST_CLIP + film.rushes.index(rushes[spot.file])}
        span = ends(film, spot.source_in, last_frame(spot))
        add(playlist, "entry", own, producer=copies[spot.file], **span)
    add(root, "playlist", kind, id=f"playlist{2 * number + 1}")
    end = max((spot.start + spot.length for spot in half.spots), default=0)
    tractor = add(
        root,
        "tractor",
        kind | {"kdenlive:trackheight": 52, "kdenlive:timeline_active": 1, "kdenlive:collapsed": 0},
        id=f"tractor{number}",
        in_=clock(0, film.rate),
        **({"out": clock(end - 1, film.rate)} if end else {}),
    )
    put(tractor, {"kdenlive:thumbs_format": "", "kdenlive:audio_rec": "", "kdenlive:track_name": half.name})
    pictures = number - sum(other.sound for other in split(film))
    pair = ("video", "video") if half.sound else release.hides[pictures % len(release.hides)]
    for i, hidden in enumerate(pair):
        attribute = {"hide": hidden} if hidden else {}
        add(tractor, "track", producer=f"playlist{2 * number + i}", **attribute)
    if half.sound:
        _add_track_filters(tractor, number)


def _add_track_filters(tractor: etree._Element, number: int) -> None:
    switched_off: Properties = {"internal_added": 237, "disable": 1}
    filters: tuple[Properties, ...] = (
        {"window": 75, "max_gain": "20dB", "mlt_service": "volume"} | switched_off,
        {"channel": -1, "mlt_service": "panner", "start": 0.5} | switched_off,
        {"iec_scale": 0, "mlt_service": "audiolevel", "disable": 1},
    )
    for i, properties in enumerate(filters):
        add(tractor, "filter", properties, id=f"filter{number}_{i}")


def _add_blending(tractor: etree._Element, number: int, half: Half, release: Release) -> None:
    both: Properties = {"a_track": 0, "b_track": number + 1}
    if half.sound:
        both |= {"mlt_service": "mix", "kdenlive_id": "mix", "sum": 1}
        if release.typed:
            both["accepts_blanks"] = 1
    else:
        both |= {"mlt_service": release.blend, "kdenlive_id": release.blend}
        if release.blend == "qtblend":
            both |= {"compositing": 0, "distort": 0, "rotate_center": 0}
    add(tractor, "transition", both | _ADDED, id=f"transition{number}")
