"""What projects of shotcut may hold besides cuts."""

from __future__ import annotations

from functools import partial

from lxml import etree

from mltassist.demofilm.film import Film
from mltassist.demofilm.markup import add, clock
from tests.hosts.layouts.feature import Feature, changed
from tests.hosts.layouts.parts import Properties, add_before, by_file, entries, part, value, write_value
from tests.hosts.layouts.shotcut_older import V18, V20, V24, Release, at, clip_id, shotcut_root, span_of

# Tracks: 1 Interview (both), 2 Cutaways (picture), 3 Music (sound).
TALK, BOAT = "media/talk.mkv", "media/boat.mkv"


def _clip(root: etree._Element, release: Release, track: int, number: int) -> etree._Element:
    return part(root, clip_id(release, track, number))


def _filter(clip: etree._Element, properties: Properties, **span: str) -> None:
    add(clip, "filter", {"window": 75, "max_gain": "20dB", "mlt_service": "volume"} | properties, **span)


def _linear_gain(film: Film, root: etree._Element) -> None:
    _filter(_clip(root, V18, 2, 0), {"gain": "0,501187"})


def _gain(film: Film, root: etree._Element) -> None:
    _filter(_clip(root, V20, 2, 0), {"level": -20})


def _keys(film: Film, root: etree._Element) -> None:
    """Keys count from the filter's `in`, which is the clip's first source frame."""
    keys = ((0, -20), (20, -50), (59, -6))
    text = ";".join(f"{clock(frame, film.rate)}={gain}" for frame, gain in keys)
    own: Properties = {"level": text, "shotcut:animIn": at(film, V24, 0), "shotcut:animOut": 0}
    _filter(_clip(root, V24, 0, 1), own, **span_of(film, V24, 120, 179))


def _fades(film: Film, root: etree._Element) -> None:
    clip, span = _clip(root, V24, 0, 1), span_of(film, V24, 120, 179)
    for name, side, keys in (("fadeIn", "In", ((0, -60), (9, 0))), ("fadeOut", "Out", ((45, 0), (59, -60)))):
        text = ";".join(f"{clock(frame, film.rate)}={gain}" for frame, gain in keys)
        frames = keys[1][0] - keys[0][0] + 1
        own: Properties = {"level": text, "channel_mask": -1, "shotcut:filter": f"{name}Volume"}
        _filter(clip, own | {f"shotcut:anim{side}": frames}, **span)
    dark: Properties = {"mlt_service": "brightness", "alpha": 1, "shotcut:filter": "fadeInBrightness"}
    keyed = f"{clock(0, film.rate)}=0;{clock(9, film.rate)}=1"
    add(clip, "filter", dark | {"level": keyed, "shotcut:animIn": 10}, **span)


def _old_fade(film: Film, root: etree._Element) -> None:
    own: Properties = {"gain": 1, "end": 0, "shotcut:filter": "fadeOutVolume", "shotcut:animOut": 15}
    _filter(_clip(root, V18, 0, 1), own, **span_of(film, V18, 165, 179))


def _speed(film: Film, root: etree._Element) -> None:
    """The cutaway at half its speed."""
    clip = _clip(root, V20, 1, 0)
    length = 2 * by_file(film)[BOAT].length
    for name, text in (
        ("resource", f"0.5:{BOAT}"),
        ("mlt_service", "timewarp"),
        ("length", at(film, V20, length)),
        ("warp_speed", 0.5),
        ("warp_resource", BOAT),
        ("shotcut:producer", "avformat"),
    ):
        write_value(clip, name, text)
    clip.set("out", at(film, V20, length - 1))


def _dissolve(film: Film, root: etree._Element, release: Release) -> None:
    """Ten frames of both around the first cut of the interview: 75 to 84, a tractor between the two."""
    playlist = part(root, "playlist0")
    left, right = entries(root, "playlist0")[:2]
    left.set("out", at(film, release, 84))
    right.set("in", at(film, release, 125))
    title = "Anonymous Submission"
    mix = add(
        root,
        "tractor",
        {"shotcut:transition": "lumaMix"},
        id="tractor0",
        title=title,
        **span_of(film, release, 0, 9),
    )
    # The outgoing clip is named by another copy of it in the host's files now and then.
    add(mix, "track", producer=left.get("producer", ""), **span_of(film, release, 85, 94))
    add(mix, "track", producer=right.get("producer", ""), **span_of(film, release, 115, 124))
    both: Properties = {"a_track": 0, "b_track": 1}
    last = {"out": at(film, release, 9)}
    luma: Properties = {"factory": "loader", "mlt_service": "luma", "softness": 0, "invert": 0}
    add(mix, "transition", both | luma | {"alpha_over": 1}, id="transition0", **last)
    heard: Properties = {"mlt_service": "mix", "start": -1, "accepts_blanks": 1}
    add(mix, "transition", both | heard, id="transition1", **last)
    add_before(root, playlist, mix)
    entry = etree.Element("entry", {"producer": "tractor0", "in": at(film, release, 0), **last})
    playlist.insert(playlist.index(right), entry)


def _other_copies(film: Film, root: etree._Element) -> None:
    """The dissolve names the bin's producers instead of its neighbours'."""
    _dissolve(film, root, V24)
    for track in part(root, "tractor0").iterchildren("track"):
        track.set("producer", "chain0")


def _states(film: Film, root: etree._Element) -> None:
    tracks = list(next(root.iterchildren("tractor", reversed=True)).iterchildren("track"))
    tracks[1].set("hide", "audio")
    tracks[2].set("hide", "video")
    tracks[3].set("hide", "both")
    write_value(part(root, "playlist0"), "shotcut:lock", 1)


def _between(film: Film, root: etree._Element) -> None:
    """The music track lies between the two picture tracks."""
    tractor = next(root.iterchildren("tractor", reversed=True))
    music = list(tractor.iterchildren("track"))[3]
    tractor.remove(music)
    list(tractor.iterchildren("track"))[1].addnext(music)
    swapped = {"2": "3", "3": "2"}
    for transition in tractor.iterchildren("transition"):
        number = value(transition, "b_track") or ""
        write_value(transition, "b_track", swapped.get(number, number))


def _track_gain(film: Film, root: etree._Element) -> None:
    """On the track itself the keys are frames of the playlist."""
    keys = ((0, 0), (50, -12), (199, 0))
    text = ";".join(f"{clock(frame, film.rate)}={gain}" for frame, gain in keys)
    _filter(part(root, "playlist2"), {"level": text})


def _markers(film: Film, root: etree._Element) -> None:
    tractor = next(root.iterchildren("tractor", reversed=True))
    group = etree.Element("properties", {"name": "shotcut:markers"})
    for number, mark in enumerate(film.marks):
        time = at(film, V24, mark.at)
        own: Properties = {"text": mark.text, "start": time, "end": time, "color": "#008000"}
        add(group, "properties", own, name=str(number))
    tractor.insert(0, group)


_18, _20, _24 = (partial(shotcut_root, release=release) for release in (V18, V20, V24))
_MIX = {
    "dissolves": [(1, 75, 10, TALK, TALK)],
    "clips": [(1, 0, 85, TALK, 10), (1, 75, 65, TALK, 115), (1, 160, 40, TALK, 20)],
}
SHOTCUT_FEATURES: dict[str, Feature] = {
    f"shotcut {name}": Feature(".mlt", changed(base, change), says)
    for name, base, change, says in (
        ("18.06 dissolve", _18, partial(_dissolve, release=V18), _MIX),
        ("18.06 linear gain", _18, _linear_gain, {"gain_db": {(3, 20): -6.0}}),
        ("18.06 sound fade", _18, _old_fade, {"fades": {(1, 80): (0, 15)}}),
        ("20.09 dissolve", _20, partial(_dissolve, release=V20), _MIX),
        ("20.09 gain", _20, _gain, {"gain_db": {(3, 20): -20.0}}),
        ("20.09 slow clip", _20, _speed, {"clips": [(2, 150, 20, BOAT, 5)], "speeds": {(2, 150): "0.5"}}),
        ("24.04 dissolve", _24, partial(_dissolve, release=V24), _MIX),
        ("24.04 dissolve of other copies", _24, _other_copies, _MIX),
        ("24.04 gain keys", _24, _keys, {"levels": {(1, 80): [(80, -20.0), (100, -50.0), (139, -6.0)]}}),
        ("24.04 fades", _24, _fades, {"fades": {(1, 80): (10, 15)}}),
        ("24.04 track states", _24, _states, {"muted": [1, 3], "hidden": [2], "locked": [1]}),
        ("24.04 sound between pictures", _24, _between, {"names": ["Interview", "Music", "Cutaways"]}),
        (
            "24.04 track gain keys",
            _24,
            _track_gain,
            {"track_levels": {3: [(0, 0.0), (50, -12.0), (199, 0.0)]}},
        ),
        ("24.04 markers", _24, _markers, {"guides": [(30, "Opening"), (80, "The jump"), (170, "Ebbe – é")]}),
    )
}
