"""What projects of kdenlive up to 0.96 may hold besides cuts."""

from __future__ import annotations

from functools import partial

from lxml import etree

from mltassist.demofilm.film import Film
from mltassist.demofilm.markup import add, document_bytes
from tests.hosts.layouts.feature import Feature, changed
from tests.hosts.layouts.kdenlive_frames import clip_ids, frames_root, playlist_ids
from tests.hosts.layouts.parts import (
    Properties,
    add_before,
    by_file,
    entries,
    part,
    property_list,
    seconds_text,
    value,
    write_value,
)

# Tracks: 1 Music (sound), 2 Interview (both), 3 Cutaways (picture).
TALK, BOAT, WAVES = "media/talk.mkv", "media/boat.mkv", "media/waves.mkv"
_ROOT = partial(frames_root, version="0.96")


def _entry(film: Film, root: etree._Element, lane: str, number: int) -> etree._Element:
    return entries(root, playlist_ids(film)[lane])[number]


def _filter(entry: etree._Element, kind: str, *, properties: Properties, **span: str) -> None:
    own: Properties = {"kdenlive_id": kind, "tag": "volume", "kdenlive_ix": 1, "disable": ""}
    add(
        entry,
        "filter",
        {"window": 75, "max_gain": "20dB", "mlt_service": "volume"} | own | properties,
        **span,
    )


def _levels(film: Film, root: etree._Element) -> None:
    # Keys are frames of the source; the entry's first one is 10.
    keys = {"level": "10=-15;24~=-40;41~=-15.6923"}
    _filter(_entry(film, root, "Interview", 0), "volume", properties={**keys})


def _gain(film: Film, root: etree._Element) -> None:
    _filter(_entry(film, root, "Music", 0), "gain", properties={"gain": 0.5})


def _two_gains(film: Film, root: etree._Element) -> None:
    for factor in (0.5, 0.25):
        _filter(_entry(film, root, "Music", 0), "gain", properties={"gain": factor})


def _mute(film: Film, root: etree._Element) -> None:
    _filter(_entry(film, root, "Interview", 1), "mute", properties={"gain": 0})


def _fades(film: Film, root: etree._Element) -> None:
    entry = _entry(film, root, "Interview", 1)  # source frames 120 to 179
    _filter(entry, "fadein", properties={"gain": 0, "end": 1}, in_="120", out="129")
    _filter(entry, "fadeout", properties={"gain": 1, "end": 0}, in_="165", out="179")
    dark: Properties = {"mlt_service": "brightness", "kdenlive_id": "fade_to_black", "start": 1, "end": 0}
    add(entry, "filter", {**dark, "tag": "brightness", "kdenlive_ix": 3}, in_="170", out="179")


def _dissolve(film: Film, root: etree._Element) -> None:
    """From the picture track below to the cutaway above, over its first frames; reversed is the other way."""
    luma: Properties = {"a_track": 2, "b_track": 3, "factory": "loader", "mlt_service": "luma", "reverse": 1}
    luma |= {"automatic": 1, "kdenlive_id": "dissolve", "force_track": 0}
    add(part(root, "maintractor"), "transition", luma, id="transition30", in_="150", out="155")


def _composite(film: Film, root: etree._Element) -> None:
    geometry: Properties = {
        "a_track": 2,
        "b_track": 3,
        "mlt_service": "composite",
        "kdenlive_id": "composite",
    }
    geometry |= {"start": "0/0:100%x100%", "factory": "loader", "fill": 1, "progressive": 1, "aligned": 0}
    add(part(root, "maintractor"), "transition", geometry, id="transition31", in_="150", out="169")


def _speed(film: Film, root: etree._Element, factor: str = "2") -> None:
    """The cutaway at twice its speed: the copy lasts half as long."""
    number, rush = clip_ids(film)[BOAT], by_file(film)[BOAT]
    identity = f"slowmotion:{number}:{factor}:1:0"
    last = rush.length // 2 - 1 if factor == "2" else rush.length * 2 - 1
    fresh: Properties = {"length": last + 1, "eof": "pause", "resource": f"{factor}:{BOAT}"}
    fresh |= {"mlt_service": "timewarp", "warp_speed": factor, "warp_resource": BOAT, "audio_index": -1}
    add_before(
        root,
        part(root, playlist_ids(film)["Cutaways"]),
        add(root, "producer", fresh, id=identity, in_="0", out=str(last)),
    )
    _entry(film, root, "Cutaways", 0).set("producer", identity)


def _groups(film: Film, root: etree._Element) -> None:
    text = (
        '<groups>\n <group><clipitem position="0" track="2"/><clipitem position="20" track="1"/></group>\n'
        "</groups>\n"
    )
    write_value(part(root, "main bin"), "kdenlive:clipgroups", text)


def _markers(film: Film, root: etree._Element) -> None:
    number = clip_ids(film)[TALK]
    marks = [(30, "0:start"), (120, "2:the other: answer")]
    property_list(
        part(root, "main bin"),
        [(f"kdenlive:marker.{number}:{seconds_text(film, at)}", text) for at, text in marks],
    )


def _states(film: Film, root: etree._Element) -> None:
    tractor = part(root, "maintractor")
    tracks = list(tractor.iterchildren("track"))
    tracks[1].set("hide", "both")  # the music
    tracks[2].set("hide", "audio")  # the interview is seen but not heard
    tracks[3].set("hide", "video")
    write_value(part(root, playlist_ids(film)["Interview"]), "kdenlive:locked_track", 1)


def _zones(film: Film, root: etree._Element) -> None:
    clip = part(root, str(clip_ids(film)[WAVES]))
    property_list(clip, [("kdenlive:zone_in", 12), ("kdenlive:zone_out", 60)])


def _folders(film: Film, root: etree._Element) -> None:
    """The folder of the cutaways moves into that of the interviews."""
    listed = part(root, "main bin")
    numbers = {
        text: name
        for name in (p.get("name", "") for p in listed.iterchildren("property"))
        if name.startswith("kdenlive:folder.") and (text := value(listed, name))
    }
    outer, inner = (numbers[name].rpartition(".")[2] for name in ("Interviews", "Cutaways"))
    for found in listed.iterchildren("property"):
        if found.get("name") == f"kdenlive:folder.-1.{inner}":
            found.set("name", f"kdenlive:folder.{outer}.{inner}")


def _proxy(film: Film, root: etree._Element) -> None:
    """The boat is edited with a stand-in, for which the waves serve here."""
    for element in root.iterchildren("producer"):
        if value(element, "resource") == BOAT:
            pairs = [("resource", WAVES), ("kdenlive:proxy", WAVES), ("kdenlive:originalurl", BOAT)]
            property_list(element, pairs)


def _comma(film: Film) -> bytes:
    root = frames_root(film, "0.96", comma=True)
    _filter(_entry(film, root, "Music", 0), "gain", properties={"gain": "0,5"})
    _filter(_entry(film, root, "Interview", 0), "volume", properties={"level": "10=-15;24~=-15,6923"})
    _speed(film, root, "0,5")
    return document_bytes(root)


_SOFT = -6.0206  # half the amplitude, in dB
FRAMES_FEATURES: dict[str, Feature] = {
    f"kdenlive 0.96 {name}": Feature(".kdenlive", changed(_ROOT, change), says)
    for name, change, says in (
        ("volume keys", _levels, {"levels": {(2, 0): [(0, -15.0), (14, -40.0), (31, -15.6923)]}}),
        ("linear gain", _gain, {"gain_db": {(1, 20): _SOFT}}),
        ("two gains", _two_gains, {"gain_db": {(1, 20): 3 * _SOFT}}),
        ("mute", _mute, {"gain_db": {(2, 80): float("-inf")}}),
        ("fades", _fades, {"fades": {(2, 80): (10, 15)}}),
        ("dissolve between tracks", _dissolve, {"clips": [(3, 150, 20, BOAT, 5)], "dissolves": []}),
        ("composite", _composite, {"clips": [(3, 150, 20, BOAT, 5)]}),
        ("speed", _speed, {"clips": [(3, 150, 20, BOAT, 5)], "speeds": {(3, 150): "2"}}),
        ("groups", _groups, {"linked": [{(2, 0), (1, 20)}]}),
        ("markers", _markers, {"markers": {TALK: [(30, "start"), (120, "the other: answer")]}}),
        ("track states", _states, {"muted": [1, 2], "hidden": [3], "locked": [2]}),
        ("zone", _zones, {"zones": {WAVES: (12, 60)}}),
        ("nested folder", _folders, {"folders": {BOAT: "Interviews/Cutaways", TALK: "Interviews"}}),
        ("proxy", _proxy, {"paths": {WAVES: BOAT}}),
    )
}
FRAMES_FEATURES["kdenlive 0.96 decimal commas"] = Feature(
    ".kdenlive",
    _comma,
    {
        "gain_db": {(1, 20): _SOFT},
        "levels": {(2, 0): [(0, -15.0), (14, -15.6923)]},
        "speeds": {(3, 150): "0.5"},
        "guides": [(30, "Opening"), (80, "The jump"), (170, "Ebbe – é")],
    },
    plays=False,
)
