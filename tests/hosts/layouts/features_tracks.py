"""What projects of kdenlive 0.99 to 1.04 may hold besides cuts."""

from __future__ import annotations

from functools import partial

from lxml import etree

from mltassist.demofilm.film import Film
from mltassist.demofilm.markup import add, clock, json_text
from tests.hosts.layouts.feature import Feature, changed
from tests.hosts.layouts.kdenlive_tracks import FIRST_CLIP, V099, V1, V101, V104, track_number, tracks_root
from tests.hosts.layouts.parts import (
    Properties,
    add_before,
    drop_value,
    ends,
    entries,
    part,
    value,
    write_value,
)

# Tracks: 1 Music (sound), 2 Interview (sound), 3 Interview (picture), 4 Cutaways (picture).
TALK, BOAT, WAVES = "media/talk.mkv", "media/boat.mkv", "media/waves.mkv"
_PLUGIN_FREE = partial(tracks_root, release=V101)
_LATE = partial(tracks_root, release=V104)


def _entry(film: Film, root: etree._Element, lane: str, number: int, *, sound: bool) -> etree._Element:
    return entries(root, f"playlist{2 * track_number(film, lane, sound=sound)}")[number]


def _levels(film: Film, root: etree._Element) -> None:
    """Keys are clock times of the source."""
    keys = ((120, -27), (140, -6.5), (179, 0))
    text = ";".join(f"{clock(frame, film.rate)}={gain}" for frame, gain in keys)
    volume: Properties = {"window": 75, "max_gain": "20dB", "level": text, "mlt_service": "volume"}
    add(_entry(film, root, "Interview", 1, sound=True), "filter", volume | {"kdenlive_id": "volume"})


def _gain(film: Film, root: etree._Element) -> None:
    volume: Properties = {"level": "00:00:00.000=-12", "mlt_service": "volume", "kdenlive_id": "volume"}
    add(_entry(film, root, "Music", 0, sound=True), "filter", volume)


def _fades(film: Film, root: etree._Element) -> None:
    entry = _entry(film, root, "Interview", 1, sound=True)
    for kind, span, start, end in (("fadein", (120, 129), 0, 1), ("fadeout", (165, 179), 1, 0)):
        volume: Properties = {"mlt_service": "volume", "kdenlive_id": kind, "gain": start, "end": end}
        add(entry, "filter", volume, **ends(film, *span))


def _picture_fades(film: Film, root: etree._Element) -> None:
    """As keys, from this version on."""
    keys = f"{clock(0, film.rate)}=0;{clock(12, film.rate)}=1"
    dark: Properties = {"mlt_service": "brightness", "kdenlive_id": "fade_from_black", "start": 1, "alpha": 1}
    add(
        _entry(film, root, "Interview", 0, sound=False),
        "filter",
        dark | {"level": keys},
        **ends(film, 10, 22),
    )


def _speed(film: Film, root: etree._Element) -> None:
    """The cutaway runs backwards."""
    number = track_number(film, "Cutaways", sound=False)
    place = part(root, f"playlist{2 * number}")
    copy = part(root, f"producer{number}_0")
    fresh: Properties = {"length": value(copy, "length"), "eof": "pause", "warp_resource": BOAT}
    fresh |= {"resource": f"-1.000000:{BOAT}", "mlt_service": "timewarp", "warp_speed": -1, "warp_pitch": 0}
    fresh |= {"kdenlive:id": value(copy, "kdenlive:id"), "set.test_audio": 1, "set.test_image": 0}
    add_before(root, place, add(root, "producer", fresh, id="producer90", **ends(film, 0, 99)))
    place.find("entry").set("producer", "producer90")  # type: ignore[union-attr]


def _groups(film: Film, root: etree._Element) -> None:
    """A pair inside the user's group, and a selection that was left over."""

    def leaf(track: int, start: int) -> dict[str, object]:
        return {"data": f"{track}:{start}", "leaf": "clip", "type": "Leaf"}

    pair = {"type": "AVSplit", "children": [leaf(2, 80), leaf(1, 80)]}
    groups = [
        {"type": "Normal", "children": [leaf(0, 20), pair]},
        {"type": "Selection", "children": [leaf(3, 150), leaf(2, 160)]},
    ]
    write_value(part(root, "main_bin"), "kdenlive:docproperties.groups", json_text(groups))


def _states(film: Film, root: etree._Element) -> None:
    """Music muted, the interview's picture hidden, its sound locked."""
    for lane, sound in (("Music", True), ("Interview", False)):
        for track in part(root, f"tractor{track_number(film, lane, sound=sound)}").iterchildren("track"):
            track.set("hide", "both")
    locked = part(root, f"tractor{track_number(film, 'Interview', sound=True)}")
    write_value(locked, "kdenlive:locked_track", 1)
    write_value(part(root, f"tractor{track_number(film, 'Music', sound=True)}"), "kdenlive:locked_track", "")


def _unnamed(film: Film, root: etree._Element) -> None:
    for element in root.iterchildren("tractor"):
        drop_value(element, "kdenlive:track_name")


def _dissolve(film: Film, root: etree._Element) -> None:
    luma: Properties = {"a_track": 3, "b_track": 4, "mlt_service": "luma", "kdenlive_id": "dissolve"}
    luma |= {"factory": "loader", "resource": "", "force_track": 0, "softness": 0.7, "reverse": 1}
    main = next(root.iterchildren("tractor", reversed=True))
    add(main, "transition", luma, id="transition40", **ends(film, 150, 155))


def _preview(film: Film, root: etree._Element) -> None:
    """The preview as an ordinary playlist, known by a property alone."""
    playlist = part(root, "timeline_preview")
    playlist.set("id", "playlist99")
    write_value(playlist, "kdenlive:playlistid", "timeline_preview")
    for track in next(root.iterchildren("tractor", reversed=True)).iterchildren("track"):
        if track.get("producer") == "timeline_preview":
            track.set("producer", "playlist99")


def _frames_in_keys(film: Film, root: etree._Element) -> None:
    """-1 is the last frame."""
    dark: Properties = {"mlt_service": "brightness", "kdenlive_id": "fade_from_black", "level": 1}
    add(_entry(film, root, "Interview", 0, sound=False), "filter", dark | {"alpha": "0=0;-1=1"})


def _colour(film: Film, root: etree._Element) -> None:
    """A plain colour over the second answer: one producer for bin and timeline."""
    fresh: Properties = {"length": 125, "resource": "0xff8800ff", "mlt_service": "color"}
    fresh |= {"kdenlive:id": FIRST_CLIP + 40, "kdenlive:clipname": "Orange", "kdenlive:folderid": -1}
    listed = part(root, "main_bin")
    producer = add(root, "producer", fresh, id="producer80", **ends(film, 0, 124))
    add_before(root, listed, producer)
    add(listed, "entry", producer="producer80", **ends(film, 0, 124))
    entry = _entry(film, root, "Cutaways", 0, sound=False)
    entry.set("producer", "producer80")
    write_value(entry, "kdenlive:id", FIRST_CLIP + 40)


TRACKS_FEATURES: dict[str, Feature] = {
    f"kdenlive {name}": Feature(".kdenlive", changed(base, change), says)
    for name, base, change, says in (
        (
            "0.99 volume keys",
            partial(tracks_root, release=V099),
            _levels,
            {"levels": {(2, 80): [(80, -27.0), (100, -6.5), (139, 0.0)]}},
        ),
        ("0.99 steady volume", partial(tracks_root, release=V099), _gain, {"gain_db": {(1, 20): -12.0}}),
        ("1 sound fades", partial(tracks_root, release=V1), _fades, {"fades": {(2, 80): (10, 15)}}),
        (
            "1 track states",
            partial(tracks_root, release=V1),
            _states,
            {"muted": [1], "hidden": [3], "locked": [2]},
        ),
        ("1 unnamed tracks", partial(tracks_root, release=V1), _unnamed, {"names": ["A2", "A1", "V1", "V2"]}),
        (
            "1.01 reversed clip",
            _PLUGIN_FREE,
            _speed,
            {"clips": [(4, 150, 20, BOAT, 5)], "speeds": {(4, 150): "-1"}},
        ),
        ("1.01 groups", _PLUGIN_FREE, _groups, {"linked": [{(3, 80), (2, 80)}, {(1, 20), (3, 80), (2, 80)}]}),
        ("1.01 dissolve between tracks", _PLUGIN_FREE, _dissolve, {"dissolves": []}),
        ("1.01 colour clip", _PLUGIN_FREE, _colour, {"clips": [(4, 150, 20, "0xff8800ff", 5)]}),
        ("1.04 picture fade as keys", _LATE, _picture_fades, {"gain_db": {}}),
        ("1.04 keys in frames", _LATE, _frames_in_keys, {"gain_db": {}}),
        ("1.04 preview as playlist", _LATE, _preview, {"ignored": [5]}),
    )
}
