"""The three documents of one film hold the same clips at the same frames."""

import json
from fractions import Fraction
from math import floor
from pathlib import Path

import pytest
from lxml import etree

from mltassist.demofilm.documents import (
    clock,
    kdenlive_document,
    plain_document,
    shotcut_document,
    write_documents,
)
from mltassist.demofilm.film import Film, Lane, Mark, Placement, Rush
from mltassist.errors import TimeError
from mltassist.frames import Rate

RATES = [Rate(25), Rate(30000, 1001)]

TALK = Rush(
    "media/talk.mp4", "Talk – é & <take 1>", "Interviews", ("interview", "keeper"), 30_000, True, True
)
VOICE = Rush("media/voice.flac", "Voice", "Sound", (), 9_000, False, True, "dry booth")
GATE = Rush("media/gate.mp4", "Gate, wide", "", ("gate", "WS"), 4_000, True, True)
STILL = Rush("media/still.mp4", "Gate, still", "Cutaways", (), 4_000, True, False)

MAIN = Lane(
    "Interview",
    True,
    True,
    (
        Placement(TALK.file, 0, 1_799, 1_798),
        Placement(STILL.file, 1_798, 7, 33),
        Placement(TALK.file, 1_900, 24_844, 200),
    ),
)
COVER = Lane("Cutaways", True, False, (Placement(GATE.file, 1_801, 1_801, 60),))
NARRATION = Lane(
    "Narration", False, True, (Placement(VOICE.file, 2_200, 0, 8_000), Placement(GATE.file, 10_201, 5, 50))
)
SPARE = Lane("Spare", False, True)


def film(rate: Rate) -> Film:
    return Film(
        title="Tide gate",
        rate=rate,
        width=320,
        height=180,
        rushes=(TALK, VOICE, GATE, STILL),
        lanes=(MAIN, COVER, NARRATION, SPARE),
        marks=(Mark(1_798, 'natural "sound"'), Mark(2_200, "Ebbe – é")),
    )


def frame_of(text: str, rate: Rate) -> int:
    """The engine's rule for clock times, written anew from its description; bare numbers are frames."""
    if ":" not in text:
        return int(text)
    hours, minutes, seconds = text.split(":")
    fps = rate.fraction
    nearest = floor(Fraction(seconds) * fps + Fraction(1, 2))
    return floor(int(hours) * 3600 * fps) + floor(int(minutes) * 60 * fps) + nearest


def named(element: etree._Element) -> dict[str, str]:
    return {item.get("name", ""): item.text or "" for item in element.findall("property")}


def by_id(root: etree._Element) -> dict[str, etree._Element]:
    """Every element with an id; fails when two share one or a reference comes before its element."""
    found: dict[str, etree._Element] = {}
    for element in root:
        for use in element.iter("track", "entry"):
            assert use.get("producer") in found
        for made in element.iter("producer", "chain", "playlist", "tractor"):
            if made.get("id") is not None:
                assert made.get("id") not in found
                found[made.get("id", "")] = made
    return found


def placed(playlist: etree._Element, ids: dict[str, etree._Element], rate: Rate) -> tuple[Placement, ...]:
    at, clips = 0, []
    for item in playlist.iterchildren("blank", "entry"):
        if item.tag == "blank":
            at += frame_of(item.get("length", ""), rate)
            continue
        first, last = (frame_of(item.get(end, ""), rate) for end in ("in", "out"))
        file = named(ids[item.get("producer", "")])["resource"]
        clips.append(Placement(file, at, first, last - first + 1))
        at += last - first + 1
    return tuple(clips)


def transitions(tractor: etree._Element, service: str) -> list[dict[str, str]]:
    return [
        values for item in tractor.iter("transition") if (values := named(item))["mlt_service"] == service
    ]


@pytest.mark.parametrize("rate", [*RATES, Rate(24000, 1001), Rate(60), Rate(100, 3), Rate(33570000, 1119679)])
def test_a_clock_time_reads_back_as_its_frame(rate: Rate) -> None:
    last_of_hours = [
        floor(hours * 3600 * rate.fraction) + by for hours in (1, 2, 11) for by in (-2, -1, 0, 1)
    ]
    for frame in [*range(0, 20_000), *last_of_hours]:
        text = clock(frame, rate)
        assert frame_of(text, rate) == frame
        assert int(text[3:5]) < 60
        assert Fraction(text[6:]) < 60


def test_a_clock_time_is_written_as_the_hosts_write_it() -> None:
    # The pair 24844 and 00:13:48.982 is one that a host wrote at 29.97.
    assert clock(24_844, Rate(30000, 1001)) == "00:13:48.982"
    assert clock(0, Rate(25)) == "00:00:00.000"
    assert clock(90_026, Rate(25)) == "01:00:01.040"


def test_no_clock_time_lies_before_the_start() -> None:
    with pytest.raises(TimeError, match="before the start"):
        clock(-1, Rate(25))


@pytest.mark.parametrize("write", [plain_document, kdenlive_document, shotcut_document])
@pytest.mark.parametrize("rate", RATES)
def test_every_document_has_the_profile_and_whole_files_in_its_bin(write, rate: Rate) -> None:
    root = etree.fromstring(write(film(rate)))
    profile = root.find("profile")
    fps = Fraction(int(profile.get("frame_rate_num")), int(profile.get("frame_rate_den")))
    assert (fps, profile.get("width"), profile.get("display_aspect_num")) == (rate.fraction, "320", "16")
    assert profile.get("description")
    assert root.get("root") is None
    ids = by_id(root)
    assert named(ids["main_bin"])["xml_retain"] == "1"
    entries = [item for item in ids["main_bin"].iter("entry") if ids[item.get("producer")].tag != "tractor"]
    held = [
        (named(ids[item.get("producer")])["resource"], frame_of(item.get("out"), rate) + 1)
        for item in entries
    ]
    assert held == [(rush.file, rush.length) for rush in film(rate).rushes]
    for source in root.iter("chain", "producer"):
        if named(source)["mlt_service"] != "color":
            assert frame_of(named(source)["length"], rate) == frame_of(source.get("out"), rate) + 1


@pytest.mark.parametrize("write", [plain_document, kdenlive_document, shotcut_document])
def test_the_same_film_gives_the_same_bytes(write) -> None:
    assert write(film(Rate(25))) == write(film(Rate(25)))
    assert write(film(Rate(25))).startswith(b"<?xml version='1.0' encoding='utf-8'?>")


@pytest.mark.parametrize("write", [plain_document, kdenlive_document, shotcut_document])
def test_clips_that_overlap_on_a_lane_are_refused(write) -> None:
    lane = Lane("Main", True, True, (Placement(TALK.file, 0, 0, 10), Placement(TALK.file, 9, 50, 10)))
    with pytest.raises(TimeError, match="overlaps the clip before it"):
        write(Film("Two at once", Rate(25), 320, 180, (TALK,), (lane,)))


@pytest.mark.parametrize("rate", RATES)
def test_the_plain_document_lays_each_lane_on_one_track(rate: Rate) -> None:
    root = etree.fromstring(plain_document(film(rate)))
    ids, main = by_id(root), root[-1]
    tracks = main.findall("track")
    lists = [ids[track.get("producer")] for track in tracks[1:]]
    assert [(named(item)["mltassist:name"], placed(item, ids, rate)) for item in lists] == [
        (lane.name, lane.placements) for lane in film(rate).lanes
    ]
    assert [track.get("hide") for track in tracks] == [None, None, "audio", "video", "video"]
    assert named(ids[tracks[0].get("producer")])["length"] == str(film(rate).length)
    assert [item["b_track"] for item in transitions(main, "mix")] == ["1", "3", "4"]
    assert [item["b_track"] for item in transitions(main, "qtblend")] == ["1", "2"]
    assert {item["a_track"] for item in transitions(main, "mix")} == {"0"}


def test_the_plain_document_keeps_names_folders_tags_notes_and_markers() -> None:
    root = etree.fromstring(plain_document(film(Rate(25))))
    talk, voice = (named(item) for item in root.findall("producer")[:2])
    assert talk["mltassist:name"] == TALK.name
    assert talk["mltassist:folder"] == "Interviews"
    assert talk["mltassist:tags"].split(";") == ["interview", "keeper"]
    assert voice["mltassist:note"] == "dry booth"
    assert "mltassist:tags" not in voice
    assert json.loads(named(root[-1])["mltassist:guides"]) == [
        {"at": 1_798, "text": 'natural "sound"'},
        {"at": 2_200, "text": "Ebbe – é"},
    ]


def sequence_of(root: etree._Element) -> etree._Element:
    settings = named(by_id(root)["main_bin"])
    return by_id(root)[settings["kdenlive:docproperties.activetimeline"]]


@pytest.mark.parametrize("rate", RATES)
def test_the_kdenlive_document_splits_a_lane_into_sound_below_and_picture_above(rate: Rate) -> None:
    root = etree.fromstring(kdenlive_document(film(rate)))
    ids, sequence = by_id(root), sequence_of(root)
    black, *tracks = [ids[track.get("producer")] for track in sequence.findall("track")]
    assert named(black)["kdenlive:playlistid"] == "black_track"
    seen = []
    for track in tracks:
        first, second = track.findall("track")
        sound = named(track).get("kdenlive:audio_track") == "1"
        assert first.get("hide") == second.get("hide") == ("video" if sound else "audio")
        assert len(ids[second.get("producer")].findall("entry")) == 0
        playlist = ids[first.get("producer")]
        assert (named(playlist).get("kdenlive:audio_track") == "1") == sound
        seen.append((named(track)["kdenlive:track_name"], sound, placed(playlist, ids, rate)))
    heard_of_main = tuple(spot for spot in MAIN.placements if spot.file != STILL.file)
    assert seen == [
        ("Spare", True, ()),
        ("Narration", True, NARRATION.placements),
        ("Interview", True, heard_of_main),
        ("Interview", False, MAIN.placements),
        ("Cutaways", False, COVER.placements),
    ]
    assert [item["b_track"] for item in transitions(sequence, "mix")] == ["1", "2", "3"]
    assert [item["b_track"] for item in transitions(sequence, "qtblend")] == ["4", "5"]
    assert {named(item)["internal_added"] for item in sequence.iter("transition")} == {"237"}


def test_every_kdenlive_clip_is_a_copy_of_a_bin_clip_with_one_half_silenced() -> None:
    root = etree.fromstring(kdenlive_document(film(Rate(25))))
    ids = by_id(root)
    known = {
        named(ids[item.get("producer")])["kdenlive:id"]: named(ids[item.get("producer")])
        for item in ids["main_bin"].iter("entry")
    }
    assert len(known) == 1 + len(film(Rate(25)).rushes)
    used = set()
    for playlist in root.findall("playlist"):
        if playlist.get("id") == "main_bin":
            continue
        sound = named(playlist).get("kdenlive:audio_track") == "1"
        for item in playlist.iter("entry"):
            chain = named(ids[item.get("producer")])
            original = known[named(item)["kdenlive:id"]]
            assert chain["kdenlive:control_uuid"] == original["kdenlive:control_uuid"]
            assert chain["resource"] == original["resource"]
            assert (chain["set.test_audio"], chain["set.test_image"]) == (("0", "1") if sound else ("1", "0"))
            used.add((item.get("producer"), playlist.get("id")))
    assert len({copy for copy, _ in used}) == len(used)


def test_the_kdenlive_document_keeps_names_folders_tags_groups_and_markers() -> None:
    root = etree.fromstring(kdenlive_document(film(Rate(25))))
    ids, sequence = by_id(root), named(sequence_of(root))
    settings = named(ids["main_bin"])
    assert settings["kdenlive:docproperties.version"] == "1.1"
    assert settings["kdenlive:docproperties.opensequences"] == sequence["kdenlive:uuid"]
    assert json.loads(settings["kdenlive:docproperties.guidesCategories"])[0]["index"] == 0
    clips = [named(ids[item.get("producer")]) for item in ids["main_bin"].iter("entry")][1:]
    folders = [settings.get(f"kdenlive:folder.-1.{clip['kdenlive:folderid']}") for clip in clips]
    assert folders == ["Interviews", "Sound", None, "Cutaways"]
    assert [clip["kdenlive:clipname"] for clip in clips] == [TALK.name, "Voice", "Gate, wide", "Gate, still"]
    assert [clip["kdenlive:clip_type"] for clip in clips] == ["0", "1", "0", "2"]
    assert [clip.get("kdenlive:tags") for clip in clips] == ["interview;keeper", None, "gate;WS", None]
    assert clips[1]["kdenlive:description"] == "dry booth"
    groups = json.loads(sequence["kdenlive:sequenceproperties.groups"])
    assert {group["type"] for group in groups} == {"AVSplit"}
    # Tracks after black: spare 0, narration 1, interview sound 2, interview picture 3, cutaways 4.
    assert [[leaf["data"] for leaf in group["children"]] for group in groups] == [
        ["3:0:-1", "2:0:-1"],
        ["3:1900:-1", "2:1900:-1"],
    ]
    markers = json.loads(sequence["kdenlive:sequenceproperties.guides"])
    assert [(marker["pos"], marker["comment"]) for marker in markers] == [
        (1_798, 'natural "sound"'),
        (2_200, "Ebbe – é"),
    ]
    assert int(sequence["kdenlive:maxduration"]) == film(Rate(25)).length


def test_the_kdenlive_project_tractor_comes_last_and_plays_the_sequence() -> None:
    root = etree.fromstring(kdenlive_document(film(Rate(25))))
    assert named(root[-1]) == {"kdenlive:projectTractor": "1"}
    assert [track.get("producer") for track in root[-1].findall("track")] == [sequence_of(root).get("id")]


@pytest.mark.parametrize("rate", RATES)
def test_the_shotcut_document_lays_pictures_first_and_a_private_chain_under_each_clip(rate: Rate) -> None:
    root = etree.fromstring(shotcut_document(film(rate)))
    ids, main = by_id(root), root[-1]
    assert named(main)["shotcut"] == "1"
    background, *tracks = main.findall("track")
    assert background.get("producer") == "background"
    lists = [ids[track.get("producer")] for track in tracks]
    assert [(named(item)["shotcut:name"], placed(item, ids, rate)) for item in lists] == [
        (lane.name, lane.placements) for lane in film(rate).lanes
    ]
    assert ["shotcut:video" in named(item) for item in lists] == [True, True, False, False]
    assert [track.get("hide") for track in tracks] == [None, None, "video", "video"]
    chains = [item.get("producer") for track in [ids["main_bin"], *lists] for item in track.iter("entry")]
    assert len(set(chains)) == len(chains)
    assert [item["b_track"] for item in transitions(main, "mix")] == ["1", "2", "3", "4"]
    blends = [(item["a_track"], item["b_track"], item["disable"]) for item in transitions(main, "qtblend")]
    assert blends == [("0", "1", "1"), ("1", "2", "0")]
    starts = [frame_of(named(item)["start"], rate) for item in main.find("properties")]
    assert starts == [mark.at for mark in film(rate).marks]


def test_the_shotcut_document_keeps_names_tags_and_silences_a_picture_only_lane() -> None:
    root = etree.fromstring(shotcut_document(film(Rate(25))))
    chains = [named(item) for item in root.findall("chain")]
    talk, voice, gate, _still, *_, cover, _voice, gate_heard = chains
    assert (talk["shotcut:caption"], talk["shotcut:comment"]) == (TALK.name, "interview; keeper")
    assert voice["shotcut:comment"] == "dry booth"
    assert (cover["audio_index"], gate_heard["video_index"]) == ("-1", "-1")
    assert "audio_index" not in gate
    assert gate["shotcut:hash"] == cover["shotcut:hash"] != talk["shotcut:hash"]
    texts = [named(item)["text"] for item in root[-1].find("properties")]
    assert texts == ['natural "sound"', "Ebbe – é"]


def test_the_three_documents_are_written_side_by_side(tmp_path: Path) -> None:
    written = write_documents(film(Rate(25)), tmp_path)
    assert [path.name for path in written] == ["saltreed.mlt", "saltreed.kdenlive", "saltreed-shotcut.mlt"]
    assert [path.read_bytes() for path in written] == [
        plain_document(film(Rate(25))),
        kdenlive_document(film(Rate(25))),
        shotcut_document(film(Rate(25))),
    ]
