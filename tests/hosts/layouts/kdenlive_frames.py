"""kdenlive 0.91 to 0.96: times in frames, a plain playlist per track, picture tracks that carry sound.

A clip's number in the bin is its producer's id; copies for the tracks have ids made from it.
"""

from __future__ import annotations

from lxml import etree

from mltassist.demofilm.film import Film, Rush
from mltassist.demofilm.markup import add, document_bytes, gapped, new_document, put
from mltassist.frames import format_timecode
from tests.hosts.layouts.parts import (
    BLACK,
    Half,
    Properties,
    by_file,
    folder_ids,
    last_frame,
    only_stream,
    seconds_text,
    sound_first,
)

FIRST_CLIP = 7
_SAVED_BY = {"0.91": "15.12.3", "0.95": "16.12.2", "0.96": "18.12.3"}
_ADDED: Properties = {"always_active": 1, "internal_added": 237}
_EFFECTS = b' kdenlive:customeffects="&lt;customeffects/>&#xa;"'


def kdenlive_091(film: Film) -> bytes:
    """Version 0.91. The bin has gaps and an attribute whose prefix is bound to nothing."""
    return with_unbound_prefix(document_bytes(frames_root(film, "0.91")))


def kdenlive_095(film: Film) -> bytes:
    """Version 0.95: lengths as timecode."""
    return document_bytes(frames_root(film, "0.95"))


def kdenlive_096(film: Film) -> bytes:
    """Version 0.96."""
    return document_bytes(frames_root(film, "0.96"))


def with_unbound_prefix(document: bytes) -> bytes:
    """The document with the attribute that a parser which knows namespaces refuses."""
    start = b'<playlist id="main bin"'
    return document.replace(start, start + _EFFECTS)


def clip_ids(film: Film) -> dict[str, int]:
    """The bin number of each file."""
    return {rush.file: number for number, rush in enumerate(film.rushes, start=FIRST_CLIP)}


def playlist_ids(film: Film) -> dict[str, str]:
    """The playlist of each lane: numbered as created, which is not the order of the tracks."""
    return {lane.name: f"playlist{number}" for number, lane in enumerate(film.lanes, start=1)}


def frames_root(film: Film, version: str, *, comma: bool = False) -> etree._Element:
    """The film's tree. With `comma` all decimals are written as a Czech locale does."""
    root = new_document(film, producer="main bin", LC_NUMERIC="cs_CZ" if comma else "C")
    ids, rushes = clip_ids(film), by_file(film)
    typed = version == "0.91"
    for file, number in ids.items():
        properties = _clip(film, rushes[file], version)
        add(root, "producer", properties, id=str(number), in_="0", out=str(rushes[file].length - 1))
    _add_bin(root, film, version, comma=comma)
    _add_black(root, film, typed=typed)
    halves = sound_first(film)
    for half in halves:
        _add_track(root, film, half, version)
    tractor = add(
        root,
        "tractor",
        id="maintractor",
        title="Anonymous Submission",
        global_feed="1",
        out=str(film.length - 1),
        in_="0",
    )
    add(tractor, "track", producer="black_track")
    playlists = playlist_ids(film)
    for half in halves:
        hidden = {"hide": "video"} if half.sound else {}
        add(tractor, "track", producer=playlists[half.name], **hidden)
    for number, half in enumerate(halves, start=1):
        _add_blending(tractor, number, half, version, comma=comma)
    return root


def _clip(film: Film, rush: Rush, version: str) -> Properties:
    length = rush.length if version == "0.91" else format_timecode(rush.length, film.rate, drop=False)
    typed: Properties = {"mlt_type": "producer"} if version == "0.91" else {}
    return {
        **typed,
        "length": length,
        "eof": "pause",
        "resource": rush.file,
        "mlt_service": "avformat",
        "seekable": 1,
        "kdenlive:clipname": rush.name,
        "kdenlive:folderid": folder_ids(film).get(rush.folder, -1),
        "kdenlive:duration": rush.length,
        "kdenlive:zone_in": 0,
        "kdenlive:zone_out": rush.length - 1,
        "kdenlive:proxy": "-",
        "kdenlive:originalurl": rush.file,
        "kdenlive:file_size": 4096,
    }


def _add_bin(root: etree._Element, film: Film, version: str, *, comma: bool) -> None:
    playlist = add(root, "playlist", id="main bin")
    put(playlist, {f"kdenlive:folder.-1.{number}": name for name, number in folder_ids(film).items()})
    for mark in film.marks:
        at = seconds_text(film, mark.at)
        put(playlist, {f"kdenlive:guide.{at.replace('.', ',') if comma else at}": mark.text})
    settings: Properties = {
        "docproperties.version": version.replace(".", ",") if comma else version,
        "docproperties.kdenliveversion": _SAVED_BY[version],
        "docproperties.decimalPoint": "," if comma else ".",
        "docproperties.profile": "custom",
        "docproperties.position": 0,
        "docproperties.zonein": 0,
        "docproperties.zoneout": 100,
        "docproperties.enableproxy": 0,
        "docmetadata.meta.attr.author.markup": "",
        "documentnotes": "",
        "clipgroups": "<groups/>",
    }
    put(playlist, {f"kdenlive:{name}": text for name, text in settings.items()})
    put(playlist, {"xml_retain": 1})
    for number, rush in zip(clip_ids(film).values(), film.rushes, strict=True):
        add(playlist, "entry", producer=str(number), in_="0", out=str(rush.length - 1))
        if version == "0.91":
            add(playlist, "blank", length="256")  # a clip was deleted here


def _add_black(root: etree._Element, film: Film, *, typed: bool) -> None:
    properties: Properties = {
        "length": 15000,
        "eof": "continue",
        "resource": BLACK,
        "mlt_service": "colour",
        "aspect_ratio": 0,
        "set.test_audio": 0,
    }
    kind: Properties = {"mlt_type": "producer"} if typed else {}
    add(root, "producer", kind | properties, id=BLACK, in_="0", out="500")
    add(add(root, "playlist", id="black_track"), "entry", producer=BLACK, in_="0", out=str(film.length - 1))


def _add_track(root: etree._Element, film: Film, half: Half, version: str) -> None:
    rushes, ids = by_file(film), clip_ids(film)
    playlist_id = playlist_ids(film)[half.name]
    copies: dict[str, str] = {}
    for file in dict.fromkeys(spot.file for spot in half.spots):
        rush = rushes[file]
        streams = only_stream(half, rush)
        # Pictures alone have no copy per track.
        copy = f"{ids[file]}_video" if "audio_index" in streams else f"{ids[file]}_{playlist_id}"
        copies[file] = f"{copy}_audio" if "video_index" in streams else copy
        properties = _clip(film, rush, version) | streams
        for own in ("kdenlive:folderid", "kdenlive:zone_in", "kdenlive:zone_out"):
            del properties[own]
        if all(written.get("id") != copies[file] for written in root):
            add(root, "producer", properties, id=copies[file], in_="0", out=str(rush.length - 1))
    playlist = add(root, "playlist", id=playlist_id)
    if half.sound:
        put(playlist, {"kdenlive:audio_track": 1})
    put(playlist, {"kdenlive:track_name": half.name, "kdenlive:locked_track": 0, "kdenlive:collapsed": 0})
    if version == "0.91" and not half.sound:
        put(playlist, {"kdenlive:composite": 1})
    for gap, spot in gapped(half.spots):
        if gap:
            add(playlist, "blank", length=str(gap))
        add(
            playlist,
            "entry",
            producer=copies[spot.file],
            in_=str(spot.source_in),
            out=str(last_frame(spot)),
        )


def _add_blending(tractor: etree._Element, number: int, half: Half, version: str, *, comma: bool) -> None:
    typed: Properties = {"mlt_type": "transition"} if version == "0.91" else {}
    both = typed | {"a_track": 0, "b_track": number}
    # The oldest ones said `combine`.
    kind: Properties = {"sum": 1} if version == "0.96" else {"combine": 1}
    add(tractor, "transition", both | {"mlt_service": "mix"} | kind | _ADDED, id=f"transition{2 * number}")
    if half.sound:
        return
    blend: Properties = (
        {"version": "0,9" if comma else "0.9", "mlt_service": "frei0r.cairoblend"}
        if version == "0.91"
        else {"compositing": 0, "distort": 0, "rotate_center": 0, "mlt_service": "qtblend"}
    )
    add(tractor, "transition", both | blend | _ADDED, id=f"transition{2 * number + 1}")
