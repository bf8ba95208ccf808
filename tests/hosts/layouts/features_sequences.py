"""What projects of kdenlive 1.1 may hold besides cuts: sequences, mixes, changes of speed, proxies."""

from __future__ import annotations

from dataclasses import replace

from lxml import etree

from mltassist.demofilm.documents_kdenlive import kdenlive_document
from mltassist.demofilm.film import Film, Lane, Placement
from mltassist.demofilm.markup import add, clock, json_text
from tests.hosts.layouts.feature import Feature, changed, parsed
from tests.hosts.layouts.parts import (
    Properties,
    add_before,
    by_file,
    drop_value,
    ends,
    entries,
    part,
    property_list,
    value,
    write_value,
)

# Tracks: 1 Music (sound), 2 Interview (sound), 3 Interview (picture), 4 Cutaways (picture).
TALK, BOAT, WAVES = "media/talk.mkv", "media/boat.mkv", "media/waves.mkv"
SOUND, PICTURE, CUTAWAYS = "playlist2", "playlist4", "playlist6"
_ROOT = parsed(kdenlive_document)
_INNER_ID = 90


def _sequence(root: etree._Element) -> etree._Element:
    return next(t for t in root.iterchildren("tractor") if value(t, "kdenlive:uuid"))


def _rename(root: etree._Element, old: str, new: str) -> None:
    for element in root.iter():
        for name in ("id", "producer"):
            if element.get(name) == old:
                element.set(name, new)


def _ordinary_id(film: Film, root: etree._Element) -> None:
    """The sequence is known by its property alone."""
    _rename(root, _sequence(root).get("id", ""), "tractor20")


def _two_fields(film: Film, root: etree._Element) -> None:
    sequence = _sequence(root)
    groups = value(sequence, "kdenlive:sequenceproperties.groups") or ""
    write_value(sequence, "kdenlive:sequenceproperties.groups", groups.replace(':-1"', '"'))


def _add_inner(film: Film, root: etree._Element) -> str:
    """A second sequence: forty frames of the waves. Gives its id."""
    lane = Lane("Sea", True, True, (Placement(WAVES, 0, 30, 40),))
    inner = _ROOT(replace(film, title="Inner", lanes=(lane,), marks=()))
    sequence = _sequence(inner)
    identity = sequence.get("id", "")
    write_value(sequence, "kdenlive:id", _INNER_ID)
    for element in inner.iter():
        for name in ("id", "producer"):
            if (old := element.get(name)) and old != identity and element is not inner:
                element.set(name, f"inner_{old}")
    parts = [
        p for p in inner if p.tag != "profile" and p.get("id") not in ("inner_main_bin", "inner_project")
    ]
    # The inner bin's own copies are left out: the clips are in the outer one already.
    listed = {e.get("producer") for e in entries(inner, "inner_main_bin")} - {identity}
    parts = [p for p in parts if p.get("id") not in listed]
    add_before(root, root[1], *parts)
    add(part(root, "main_bin"), "entry", producer=identity, **ends(film, 0, 0))  # stale, as often
    return identity


def _nested(film: Film, root: etree._Element) -> None:
    """The last answer is replaced by the second sequence, its picture and its sound."""
    identity = _add_inner(film, root)
    for playlist in (SOUND, PICTURE):
        entry = entries(root, playlist)[2]
        entry.set("producer", identity)
        write_value(entry, "kdenlive:id", _INNER_ID)
        for name, frame in (("in", 0), ("out", 39)):
            entry.set(name, clock(frame, film.rate))


def _two_sequences(film: Film, root: etree._Element) -> None:
    """The second one is open in another tab, and no property says which one is active."""
    identity = _add_inner(film, root)
    listed, active = part(root, "main_bin"), _sequence_of(root, film)
    property_list(
        listed,
        [
            ("kdenlive:docproperties.opensequences", f"{identity};{active}"),
            ("kdenlive:docproperties.uuid", active),
        ],
    )
    drop_value(listed, "kdenlive:docproperties.activetimeline")


def _sequence_of(root: etree._Element, film: Film) -> str:
    named = (t for t in root.iterchildren("tractor") if value(t, "kdenlive:clipname") == film.title)
    return next(named).get("id", "")


def _subtitles(film: Film, root: etree._Element) -> None:
    listed = [{"file": "film.kdenlive.ass", "id": 0, "name": "Subtitles"}]
    pairs = [("subtitlesList", json_text(listed)), ("globalSubtitleStyles", "[\n]\n")]
    property_list(_sequence(root), [(f"kdenlive:sequenceproperties.{n}", text) for n, text in pairs])


_ASS = """[Script Info]
ScriptType: v4.00+
PlayResX: 160
PlayResY: 90

[V4+ Styles]
Format: Name, Fontname, Fontsize, PrimaryColour, Alignment
Style: Default,Sans,12,&H00FFFFFF,2

[Events]
Format: Layer, Start, End, Style, Name, MarginL, MarginR, MarginV, Effect, Text
Dialogue: 0,0:00:01.00,0:00:02.50,Default,,0,0,0,,We used to mend the nets here.
"""


def _mix(film: Film, root: etree._Element) -> None:
    """The first cut of the interview becomes ten frames of both: 75 to 84, the cut in the middle."""
    for playlist, sound in ((SOUND, True), (PICTURE, False)):
        number = int(playlist.removeprefix("playlist"))
        first, second, third = entries(root, playlist)
        first.set("out", clock(94, film.rate))  # to timeline frame 84
        track, other = part(root, playlist), part(root, f"playlist{number + 1}")
        # The incoming clip starts five frames earlier, on the other playlist.
        track.remove(second)
        second.set("in", clock(115, film.rate))
        add(other, "blank", length=clock(75, film.rate))
        other.append(second)
        # 85 to 159: nothing is left on the first playlist until the third clip.
        for blank in list(track.iterchildren("blank")):
            track.remove(blank)
        gap = etree.Element("blank", length=clock(75, film.rate))
        track.insert(track.index(third), gap)
        service: Properties = (
            {"mlt_service": "mix", "kdenlive_id": "mix", "start": -1, "accepts_blanks": 1}
            if sound
            else {"mlt_service": "luma", "kdenlive_id": "luma", "resource": "", "softness": 0, "invert": 0}
        )
        both: Properties = {"a_track": 0, "b_track": 1, "factory": "loader", "kdenlive:mixcut": 5}
        span = ends(film, 75, 84)
        add(part(root, f"tractor{number // 2}"), "transition", both | service | {"reverse": 0}, **span)
    _move_group(root, 80, 75)


def _move_group(root: etree._Element, old: int, new: int) -> None:
    sequence = _sequence(root)
    groups = value(sequence, "kdenlive:sequenceproperties.groups") or ""
    write_value(sequence, "kdenlive:sequenceproperties.groups", groups.replace(f":{old}:", f":{new}:"))


def _warped(film: Film, root: etree._Element, speed: str, length: int) -> None:
    playlist = part(root, CUTAWAYS)
    rush = by_file(film)[BOAT]
    entry = entries(root, CUTAWAYS)[0]
    fresh: Properties = {"length": length, "eof": "pause", "resource": f"{speed}:{BOAT}"}
    fresh |= {"mlt_service": "timewarp", "warp_speed": speed, "warp_resource": BOAT, "warp_pitch": 0}
    own = next(e for e in entry.iterchildren("property") if e.get("name") == "kdenlive:id").text
    fresh |= {"kdenlive:id": own, "kdenlive:clipname": rush.name, "set.test_audio": 1, "set.test_image": 0}
    add_before(root, playlist, add(root, "producer", fresh, id="producer9", **ends(film, 0, length - 1)))
    entry.set("producer", "producer9")


def _slow(film: Film, root: etree._Element) -> None:
    _warped(film, root, "0.500000", 200)


def _reversed(film: Film, root: etree._Element) -> None:
    _warped(film, root, "-1.000000", 100)


def _remapped(film: Film, root: etree._Element) -> None:
    """The cutaway's chain plays its source at double speed: a hundred frames in fifty."""
    chain = part(root, entries(root, CUTAWAYS)[0].get("producer", ""))
    seconds = [f"{float(film.rate.seconds(frame)):g}" for frame in (0, 100)]
    keys = zip((clock(0, film.rate), clock(50, film.rate)), seconds, strict=True)
    link: Properties = {"mlt_service": "timeremap", "pitch": 0, "image_mode": "nearest", "speed": 1}
    add(chain, "link", link | {"time_map": ";".join(f"{time}={text}" for time, text in keys)}, id="link0")


def _proxy(film: Film, root: etree._Element) -> None:
    """The boat is edited with a stand-in, for which the waves serve here."""
    for element in root.iterchildren("chain"):
        original = value(element, "resource") or ""
        write_value(element, "kdenlive:originalurl", original)  # even without a proxy
        if original == BOAT:
            property_list(element, [("resource", WAVES), ("kdenlive:proxy", WAVES)])


def _markers(film: Film, root: etree._Element) -> None:
    marks = [{"comment": "Laughs", "pos": 130, "type": 1}, {"comment": "Good", "pos": 40, "type": 0}]
    for element in root.iterchildren("chain"):
        if value(element, "resource") == TALK:
            write_value(element, "kdenlive:markers", json_text(marks))


def _categories(film: Film, root: etree._Element) -> None:
    names = [("#9b59b6", "Kapitel", 0), ("#ff0000", "Änderung", 3), ("#00aa00", "Ort", 7)]
    listed = [{"color": color, "comment": name, "index": index} for color, name, index in names]
    write_value(part(root, "main_bin"), "kdenlive:docproperties.guidesCategories", json_text(listed))
    markers = [{"comment": mark.text, "pos": mark.at, "type": 3} for mark in film.marks]
    write_value(_sequence(root), "kdenlive:sequenceproperties.guides", json_text(markers))


def _folders(film: Film, root: etree._Element) -> None:
    listed = part(root, "main_bin")
    write_value(listed, "kdenlive:folder.4.64", "Boats")
    for element in root.iterchildren("chain"):
        if value(element, "resource") == BOAT:
            write_value(element, "kdenlive:folderid", 64)


def _odd_lengths(film: Film, root: etree._Element) -> None:
    """The tractor ends in black, the duration is timecode, the bin's entry is stale."""
    sequence = _sequence(root)
    sequence.set("out", clock(film.length + 500, film.rate))
    write_value(sequence, "kdenlive:duration", "00:00:08:00")
    entries(root, "main_bin")[0].set("out", clock(0, film.rate))


_TALK_MIX = [(75, 10, TALK, TALK)]
SEQUENCE_FEATURES: dict[str, Feature] = {
    f"kdenlive 1.1 {name}": Feature(".kdenlive", changed(_ROOT, change), says)
    for name, change, says in (
        ("ordinary tractor id", _ordinary_id, {"clips": [(4, 150, 20, BOAT, 5)]}),
        ("leaves of two fields", _two_fields, {"linked": [{(3, at), (2, at)} for at in (0, 80, 160)]}),
        (
            "nested sequence",
            _nested,
            {
                "nested": [(2, 160, 40, 0), (3, 160, 40, 0)],
                "linked": [{(3, at), (2, at)} for at in (0, 80, 160)],
            },
        ),
        ("two sequences, none active", _two_sequences, {"clips": [(4, 150, 20, BOAT, 5)]}),
        ("same-track mix", _mix, {"dissolves": [(track, *spot) for track in (2, 3) for spot in _TALK_MIX]}),
        ("slow clip", _slow, {"clips": [(4, 150, 20, BOAT, 5)], "speeds": {(4, 150): "0.5"}}),
        ("reversed clip", _reversed, {"clips": [(4, 150, 20, BOAT, 5)], "speeds": {(4, 150): "-1"}}),
        ("time remap", _remapped, {"clips": [(4, 150, 20, BOAT, 5)], "speeds": {(4, 150): "2"}}),
        ("proxy", _proxy, {"paths": {WAVES: BOAT}}),
        ("clip markers", _markers, {"markers": {TALK: [(40, "Good"), (130, "Laughs")]}}),
        ("marker categories", _categories, {"categories": ["Kapitel", "Änderung", "Ort"]}),
        ("nested folder", _folders, {"folders": {BOAT: "Interviews/Boats"}}),
        ("stale lengths", _odd_lengths, {"length": 200}),
    )
}
SEQUENCE_FEATURES["kdenlive 1.1 subtitles"] = Feature(
    ".kdenlive",
    changed(_ROOT, _subtitles),
    {"side": "film.kdenlive.ass", "subtitles": [("We used to mend the nets here.", "1", "2.5")]},
    {"film.kdenlive.ass": _ASS.encode()},
)
