"""Documents with one thing that should not be there, or should: each is one the hosts' users have."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

from lxml import etree

from mltassist.demofilm.documents_kdenlive import kdenlive_document
from mltassist.demofilm.film import Film
from mltassist.demofilm.markup import add, clock, json_text
from tests.hosts.layouts.feature import changed, parsed
from tests.hosts.layouts.kdenlive_tracks import V1, V104, tracks_root
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
from tests.hosts.layouts.shotcut_older import V20, V24, shotcut_root


class Oddity(NamedTuple):
    """suffix: end of the file name. write: the small film with the oddity.

    plays: the engine plays it as the film says. same: its clips are all still those of the film.
    """

    suffix: str
    write: Callable[[Film], bytes]
    plays: bool = True
    same: bool = True


def _main(root: etree._Element) -> etree._Element:
    return next(root.iterchildren("tractor", reversed=True))


def _track_of_nothing(film: Film, root: etree._Element) -> None:
    add(_main(root), "track", producer="")


def _no_background(film: Film, root: etree._Element) -> None:
    root.remove(part(root, "background"))


def _whole_entry(film: Film, root: etree._Element) -> None:
    """The music's entry says nothing of its ends: it is played whole."""
    entry = entries(root, "playlist2")[0]
    del entry.attrib["in"], entry.attrib["out"]


def _negative_filter(film: Film, root: etree._Element) -> None:
    """A fade longer than its clip begins before the source."""
    dark: Properties = {"mlt_service": "brightness", "kdenlive_id": "fade_from_black", "level": 1}
    add(entries(root, "playlist4")[0], "filter", dark, in_="00:00:-0.617", out=clock(20, film.rate))


def _image(film: Film, root: etree._Element, length: str) -> None:
    """A still of four hours, for which a colour serves here."""
    clip = part(root, "chain1_0")
    still = etree.Element("producer", {"id": "chain1_0", "in": "00:00:00.000", "out": "03:59:59.960"})
    root.replace(clip, still)
    for name, text in (
        ("length", length),
        ("eof", "pause"),
        ("resource", "#ff00aa00"),
        ("mlt_service", "color"),
        ("shotcut:caption", "Still"),
    ):
        write_value(still, name, text)


def _short_image(film: Film, root: etree._Element) -> None:
    """The entry is longer than its producer says; the engine cuts it, the host does not."""
    for producer in root.iterchildren("producer"):
        if producer.get("id") == entries(root, "playlist6")[0].get("producer"):
            producer.set("out", clock(14, film.rate))
            write_value(producer, "length", 15)
            write_value(producer, "mlt_service", "color")
            write_value(producer, "resource", "0x00aa00ff")
    for entry in entries(root, "main_bin"):
        clip = part(root, entry.get("producer", ""))
        if value(clip, "resource") == "media/boat.mkv":
            write_value(clip, "mlt_service", "color")
            write_value(clip, "resource", "0x00aa00ff")
            clip.set("out", clock(14, film.rate))
            write_value(clip, "length", 15)


def _unused(film: Film, root: etree._Element) -> None:
    for number in range(3):
        gone: Properties = {"length": 50, "resource": "0x112233ff", "mlt_service": "color"}
        add_before(root, _main(root), add(root, "producer", gone, id=f"left{number}", **ends(film, 0, 49)))
    leftover = add(root, "playlist", id="leftover")
    add(leftover, "entry", producer="left0", **ends(film, 0, 9))
    add_before(root, _main(root), leftover)


def _same_names(film: Film, root: etree._Element) -> None:
    for number in range(2):
        write_value(part(root, f"playlist{number}"), "shotcut:name", "Picture")


def _windows(film: Film, root: etree._Element) -> None:
    root.set("root", "C:/Users/Ada/Films")
    for element in root.iter("producer", "chain"):
        resource = value(element, "resource") or ""
        if resource.startswith("media/"):
            inside = resource.removeprefix("media/")
            write_value(element, "resource", f"D:\\Rushes\\{inside}" if "boat" in inside else resource)
            write_value(element, "kdenlive:originalurl", f"C:/Users/Ada/Films/media/{inside}")


def _render_job(film: Film, root: etree._Element) -> None:
    target = etree.Element("consumer", {"mlt_service": "null", "in": "0", "out": str(film.length - 1)})
    root.insert(0, target)
    for playlist in root.iterchildren("playlist"):
        playlist.set("autoclose", "1")


def _empty_json(film: Film, root: etree._Element) -> None:
    for name in ("groups", "guides"):
        write_value(part(root, "main_bin"), f"kdenlive:docproperties.{name}", "[\n]\n")


def _unsorted_markers(film: Film, root: etree._Element) -> None:
    markers = [{"comment": mark.text, "pos": mark.at, "type": 0} for mark in reversed(film.marks)]
    write_value(part(root, "main_bin"), "kdenlive:docproperties.guides", json_text(markers))


def _rate(film: Film, root: etree._Element, numerator: int, denominator: int) -> None:
    """The frame rate as another fraction. Times are not rewritten: they stand for the film's own rate."""
    profile = root.find("profile")
    if profile is not None:
        profile.set("frame_rate_num", str(numerator))
        profile.set("frame_rate_den", str(denominator))


def _same_rate(film: Film, root: etree._Element) -> None:
    fraction = film.rate.fraction
    _rate(film, root, fraction.numerator * 1_000_000, fraction.denominator * 1_000_000)


def _no_lengths(film: Film, root: etree._Element) -> None:
    """As scripts write them; such producers are probed."""
    for producer in root.iterchildren("producer"):
        if (value(producer, "resource") or "").startswith("media/"):
            drop_value(producer, "length")
            write_value(producer, "mlt_service", "avformat")


def _wrong_description(film: Film, root: etree._Element) -> None:
    profile = root.find("profile")
    if profile is not None:
        profile.set("description", "PAL 4:3 DV or DVD")


def _empty_track(film: Film, root: etree._Element) -> None:
    """A track tractor without `out`, of two empty playlists, above the others."""
    main = _main(root)
    for number in (90, 91):
        add_before(root, main, add(root, "playlist", id=f"playlist{number}"))
    empty = add(root, "tractor", {"kdenlive:track_name": "Spare"}, id="tractor90", in_=clock(0, film.rate))
    for number in (90, 91):
        add(empty, "track", hide="audio", producer=f"playlist{number}")
    add_before(root, main, empty)
    main.insert(
        main.index(list(main.iterchildren("track"))[-1]) + 1, add(main, "track", producer="tractor90")
    )


def _empty_names(film: Film, root: etree._Element) -> None:
    for chain in root.iterchildren("chain"):
        write_value(chain, "kdenlive:clipname", "")


def empty_shotcut(film: Film) -> bytes:
    """A project without a timeline: nothing but an empty playlist."""
    return (
        b'<?xml version="1.0" standalone="no"?>\n'
        b'<mlt LC_NUMERIC="C" version="7.4.0" title="Shotcut version 21.10.31" producer="playlist0">\n'
        b'  <profile description="automatic" width="160" height="90" progressive="1" sample_aspect_num="1" '
        b'sample_aspect_den="1" display_aspect_num="16" display_aspect_den="9" frame_rate_num="25" '
        b'frame_rate_den="1" colorspace="709"/>\n'
        b'  <playlist id="playlist0" title="Shotcut version 21.10.31"/>\n</mlt>\n'
    )


_V1, _V104 = partial(tracks_root, release=V1), partial(tracks_root, release=V104)
_20, _24, _11 = (
    partial(shotcut_root, release=V20),
    partial(shotcut_root, release=V24),
    parsed(kdenlive_document),
)

ODDITIES: dict[str, Oddity] = {
    "track of nothing": Oddity(".mlt", changed(_24, _track_of_nothing), plays=False),
    "background missing": Oddity(".mlt", changed(_24, _no_background), plays=False),
    "entry without ends": Oddity(".mlt", changed(_24, _whole_entry), same=False),
    "filter before its source": Oddity(".kdenlive", changed(_V1, _negative_filter)),
    "still of four hours": Oddity(".mlt", changed(_24, partial(_image, length="04:00:00.000")), same=False),
    "clock without fraction": Oddity(".mlt", changed(_24, partial(_image, length="04:00:00")), same=False),
    "sixty minutes": Oddity(".mlt", changed(_24, partial(_image, length="03:60:00.000")), same=False),
    "entry longer than its still": Oddity(".kdenlive", changed(_V1, _short_image), plays=False, same=False),
    "unused parts": Oddity(".mlt", changed(_24, _unused)),
    "tracks of one name": Oddity(".mlt", changed(_24, _same_names)),
    "windows paths": Oddity(".kdenlive", changed(_V1, _windows), plays=False, same=False),
    "consumer first": Oddity(".mlt", changed(_20, _render_job)),
    "empty JSON": Oddity(".kdenlive", changed(_V1, _empty_json)),
    "markers unsorted": Oddity(".kdenlive", changed(_V104, _unsorted_markers)),
    "rate in millionths": Oddity(".kdenlive", changed(_11, _same_rate)),
    "rate 60000000/1000000": Oddity(
        ".kdenlive",
        changed(_11, partial(_rate, numerator=60000000, denominator=1000000)),
        plays=False,
        same=False,
    ),
    "rate 33570000/1119679": Oddity(
        ".mlt", changed(_24, partial(_rate, numerator=33570000, denominator=1119679)), plays=False, same=False
    ),
    "no lengths": Oddity(".mlt", changed(_20, _no_lengths)),
    "wrong profile description": Oddity(".mlt", changed(_20, _wrong_description)),
    "empty track": Oddity(".kdenlive", changed(_V1, _empty_track)),
    "empty clip names": Oddity(".kdenlive", changed(_11, _empty_names)),
    "no timeline": Oddity(".mlt", empty_shotcut, plays=False, same=False),
}
