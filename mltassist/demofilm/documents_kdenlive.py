"""The demonstration film in kdenlive's layout 1.1.

Clock times; files as chains; every track a tractor of two playlists; the timeline a sequence that
lies in the bin; a project tractor around it. Sound tracks come first, the first of them last.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass

from lxml import etree

from mltassist.demofilm.film import Film, Lane, Placement, Rush
from mltassist.demofilm.markup import add, clock, document_bytes, gapped, json_text, new_document, put

_ADDED_BY_HOST: dict[str, object] = {"internal_added": 237}
_SEQUENCE_FOLDER = 2
_SEQUENCE_ID = 3
_CATEGORIES = (("#9b59b6", "Chapter"), ("#3daee9", "Place"), ("#1abc9c", "Check"))


@dataclass(frozen=True, slots=True)
class _Track:
    """The picture or the sound of a lane. `spots` holds only clips that have such a half."""

    name: str
    sound: bool
    spots: tuple[Placement, ...]


def kdenlive_document(film: Film) -> bytes:
    """The film with bin folders, tags, linked sound and markers. All ids follow from its title.

    A lane with picture and sound becomes two tracks of the same name, its clips grouped in pairs.
    Raises KeyError for a placement of a file that is not among the rushes, TimeError when clips
    of a lane overlap.
    """
    root = new_document(film, producer="main_bin")
    folders = {name: number for number, name in enumerate(_folder_names(film), start=_SEQUENCE_ID + 1)}
    first_clip = _SEQUENCE_ID + 1 + len(folders)
    clips = {rush.file: _clip_properties(film, rush, folders) for rush in film.rushes}
    ids = {rush.file: number for number, rush in enumerate(film.rushes, start=first_clip)}
    for file, number in ids.items():
        clips[file]["kdenlive:id"] = number
    lengths = {rush.file: rush.length for rush in film.rushes}

    for number, file in enumerate(ids):
        add(root, "chain", clips[file], id=f"chain{number}", out=clock(lengths[file] - 1, film.rate))
    tracks = _tracks(film)
    for number, track in enumerate(tracks):
        _add_track(root, film, number, track, clips)
    sequence = _braced(film, "sequence")
    _add_sequence(root, film, sequence, tracks)
    _add_bin(root, film, sequence, folders)
    last = clock(film.length - 1, film.rate)
    project = add(root, "tractor", {"kdenlive:projectTractor": 1}, id="project", in_=_zero(film), out=last)
    add(project, "track", producer=sequence, in_=_zero(film), out=last)
    return document_bytes(root)


def _braced(film: Film, what: str) -> str:
    """A UUID (RFC 9562, version 5) that is the same whenever the same film is written."""
    return f"{{{uuid.uuid5(uuid.NAMESPACE_URL, f'mltassist:{film.title}/{what}')}}}"


def _zero(film: Film) -> str:
    return clock(0, film.rate)


def _folder_names(film: Film) -> list[str]:
    return list(dict.fromkeys(rush.folder for rush in film.rushes if rush.folder))


def _clip_properties(film: Film, rush: Rush, folders: dict[str, int]) -> dict[str, object]:
    properties: dict[str, object] = {
        "length": rush.length,
        "eof": "pause",
        "resource": rush.file,
        "mlt_service": "avformat-novalidate",
        "seekable": 1,
        "kdenlive:clipname": rush.name,
        "kdenlive:folderid": folders.get(rush.folder, -1),
        "kdenlive:control_uuid": _braced(film, rush.file),
        "kdenlive:clip_type": 0 if rush.picture and rush.sound else 1 if rush.sound else 2,
    }
    if rush.tags:
        properties["kdenlive:tags"] = ";".join(rush.tags)
    if rush.note:
        properties["kdenlive:description"] = rush.note
    return properties


# --- tracks ---------------------------------------------------------------------------------------


def _tracks(film: Film) -> list[_Track]:
    """Sound tracks from the last lane to the first, then picture tracks from the bottom up."""
    rushes = {rush.file: rush for rush in film.rushes}

    def half(lane: Lane, sound: bool) -> _Track:
        spots = (s for s in lane.placements if (rushes[s.file].sound if sound else rushes[s.file].picture))
        return _Track(lane.name, sound, tuple(spots))

    heard = [half(lane, sound=True) for lane in reversed(film.lanes) if lane.sound]
    return heard + [half(lane, sound=False) for lane in film.lanes if lane.picture]


def _add_track(
    root: etree._Element, film: Film, number: int, track: _Track, clips: dict[str, dict[str, object]]
) -> None:
    """The track's own copies of its files, its two playlists (the second for mixes) and its tractor."""
    lengths = {rush.file: rush.length for rush in film.rushes}
    use = (
        {"set.test_audio": 0, "set.test_image": 1}
        if track.sound
        else {"set.test_audio": 1, "set.test_image": 0}
    )
    copies = {file: f"chain{number}_{i}" for i, file in enumerate(dict.fromkeys(s.file for s in track.spots))}
    for file, copy in copies.items():
        add(root, "chain", clips[file] | use, id=copy, out=clock(lengths[file] - 1, film.rate))
    kind: dict[str, object] = {"kdenlive:audio_track": 1} if track.sound else {}
    playlist = add(root, "playlist", kind, id=f"playlist{2 * number}")
    for gap, spot in gapped(track.spots):
        if gap:
            add(playlist, "blank", length=clock(gap, film.rate))
        add(
            playlist,
            "entry",
            {"kdenlive:id": clips[spot.file]["kdenlive:id"]},
            producer=copies[spot.file],
            in_=clock(spot.source_in, film.rate),
            out=clock(spot.source_in + spot.length - 1, film.rate),
        )
    add(root, "playlist", kind, id=f"playlist{2 * number + 1}")

    end = max((spot.start + spot.length for spot in track.spots), default=0)
    # An empty track's tractor has no `out`.
    out = {"out": clock(end - 1, film.rate)} if end else {}
    tractor = add(root, "tractor", kind, id=f"tractor{number}", in_=_zero(film), **out)
    put(
        tractor,
        {
            "kdenlive:trackheight": 67,
            "kdenlive:timeline_active": 1,
            "kdenlive:collapsed": 0,
            "kdenlive:track_name": track.name,
        },
    )
    for inner in (2 * number, 2 * number + 1):
        add(tractor, "track", hide="video" if track.sound else "audio", producer=f"playlist{inner}")
    if track.sound:
        _add_track_filters(tractor, number)


def _add_track_filters(tractor: etree._Element, number: int) -> None:
    """The level, balance and meter that every sound track has, all switched off."""
    filters: tuple[dict[str, object], ...] = (
        {"window": 75, "max_gain": "20dB", "channel_mask": -1, "mlt_service": "volume"} | _ADDED_BY_HOST,
        {"channel": -1, "start": 0.5, "mlt_service": "panner"} | _ADDED_BY_HOST,
        {"iec_scale": 0, "dbpeak": 1, "mlt_service": "audiolevel"},
    )
    for i, properties in enumerate(filters):
        add(tractor, "filter", properties | {"disable": 1}, id=f"filter{number}_{i}")


# --- sequence and bin -----------------------------------------------------------------------------


def _sequence_properties(film: Film, sequence: str, tracks: list[_Track]) -> dict[str, object]:
    properties: dict[str, object] = {
        "kdenlive:uuid": sequence,
        "kdenlive:control_uuid": sequence,
        "kdenlive:clipname": film.title,
        "kdenlive:id": _SEQUENCE_ID,
        "kdenlive:folderid": _SEQUENCE_FOLDER,
        "kdenlive:producer_type": 17,
        "kdenlive:clip_type": 0,
        "kdenlive:duration": clock(film.length, film.rate),
        "kdenlive:maxduration": film.length,
    }
    sounding = sum(track.sound for track in tracks)
    values: dict[str, object] = {
        "activeTrack": sounding if sounding < len(tracks) else 0,
        "audioTarget": -1,
        "videoTarget": -1,
        "documentuuid": _braced(film, "document"),
        "hasAudio": int(sounding > 0),
        "hasVideo": int(sounding < len(tracks)),
        "position": 0,
        "tracks": len(tracks),
        "tracksCount": len(tracks),
        "zonein": 0,
        "zoneout": film.length - 1,
        "zoom": 8,
        "groups": json_text(list(_groups(film, tracks))),
        "guides": json_text([{"comment": mark.text, "pos": mark.at, "type": 0} for mark in film.marks]),
    }
    return properties | {f"kdenlive:sequenceproperties.{name}": value for name, value in values.items()}


def _add_sequence(root: etree._Element, film: Film, sequence: str, tracks: list[_Track]) -> None:
    last = clock(film.length - 1, film.rate)
    black: dict[str, object] = {
        "length": 2147483647,
        "eof": "continue",
        "resource": "black",
        "mlt_service": "color",
        "kdenlive:playlistid": "black_track",
        "mlt_image_format": "rgba",
        "set.test_audio": 0,
    }
    add(root, "producer", black, id="producer0", in_=_zero(film), out=last)
    tractor = add(root, "tractor", id=sequence, in_=_zero(film), out=last)
    put(tractor, _sequence_properties(film, sequence, tracks))
    add(tractor, "track", producer="producer0")
    for number in range(len(tracks)):
        add(tractor, "track", producer=f"tractor{number}")
    for number, track in enumerate(tracks):
        service: dict[str, object] = (
            {"mlt_service": "mix", "kdenlive_id": "mix", "sum": 1, "accepts_blanks": 1}
            if track.sound
            else {
                "mlt_service": "qtblend",
                "kdenlive_id": "qtblend",
                "compositing": 0,
                "distort": 0,
                "rotate_center": 0,
            }
        )
        ends: dict[str, object] = {"a_track": 0, "b_track": number + 1, "always_active": 1}
        add(tractor, "transition", ends | service | _ADDED_BY_HOST, id=f"transition{number}")


def _groups(film: Film, tracks: list[_Track]) -> Iterator[dict[str, object]]:
    """A pair for each clip whose picture and sound both lie on the timeline."""
    heard = [lane for lane in reversed(film.lanes) if lane.sound]
    seen = [lane for lane in film.lanes if lane.picture]
    for lane in film.lanes:
        if not (lane.picture and lane.sound):
            continue
        # Found by identity: two lanes may be equal in all they hold.
        below = next(i for i, other in enumerate(heard) if other is lane)
        above = len(heard) + next(i for i, other in enumerate(seen) if other is lane)
        for spot in lane.placements:
            if spot in tracks[below].spots and spot in tracks[above].spots:
                leaves = [
                    {"data": f"{number}:{spot.start}:-1", "leaf": "clip", "type": "Leaf"}
                    for number in (above, below)
                ]
                yield {"children": leaves, "type": "AVSplit"}


def _add_bin(root: etree._Element, film: Film, sequence: str, folders: dict[str, int]) -> None:
    hundredths = round(film.rate.fraction * 100)
    per_second = hundredths // 100 if hundredths % 100 == 0 else hundredths
    categories = [
        {"color": color, "comment": name, "index": i} for i, (color, name) in enumerate(_CATEGORIES)
    ]
    settings: dict[str, object] = {
        "version": 1.1,
        "kdenliveversion": "24.12.0",
        "uuid": _braced(film, "document"),
        "documentid": uuid.UUID(_braced(film, "document")).time_low,
        "activetimeline": sequence,
        "opensequences": sequence,
        "guidesCategories": json_text(categories),
        "profile": f"atsc_{film.height}p_{per_second}",
        "audioChannels": 2,
        "enableproxy": 0,
    }
    main_bin = add(root, "playlist", {"kdenlive:folder.-1.2": "Sequences"}, id="main_bin")
    put(main_bin, {f"kdenlive:folder.-1.{number}": name for name, number in folders.items()})
    put(main_bin, {"kdenlive:sequenceFolder": _SEQUENCE_FOLDER})
    put(main_bin, {f"kdenlive:docproperties.{name}": value for name, value in settings.items()})
    put(main_bin, {"xml_retain": 1})
    add(main_bin, "entry", producer=sequence, in_=_zero(film), out=clock(film.length - 1, film.rate))
    for number, rush in enumerate(film.rushes):
        add(
            main_bin,
            "entry",
            producer=f"chain{number}",
            in_=_zero(film),
            out=clock(rush.length - 1, film.rate),
        )
