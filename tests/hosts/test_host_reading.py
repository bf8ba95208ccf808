"""Each layout reads as the film that was written, and is saved as it was read."""

import gc
from dataclasses import replace

import pytest
from lxml import etree

from mltassist.document.load import load
from mltassist.document.properties import put
from mltassist.document.save import save
from mltassist.frames import Rate
from mltassist.hosts.registry import host_of
from mltassist.timeline.model import TrackKind
from tests.hosts.films import (
    FILM,
    LAYOUTS,
    MUSIC,
    RUSHES,
    TALK,
    Case,
    expected_tracks,
    rows,
    timeline_of,
    write_case,
)

CROP = '<filter><property name="mlt_service">crop</property></filter>'


def test_the_host_is_known_by_content(case: Case):
    assert host_of(case.document()).name == {"plain": "mlt"}.get(case.layout, case.layout)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("rate", [Rate(25), Rate(30000, 1001), Rate(24000, 1001), Rate(50)])
def test_tracks_and_clips_are_those_of_the_film(layout, rate, tmp_path):
    case = write_case(layout, replace(FILM, rate=rate), tmp_path)
    timeline = case.timeline()
    assert [(t.name, t.kind, rows(t)) for t in timeline.tracks] == expected_tracks(case.film, layout)
    assert [t.index for t in timeline.tracks] == list(range(1, len(timeline.tracks) + 1))
    assert (timeline.rate, timeline.width, timeline.height) == (rate, 160, 90)
    assert timeline.length == 200
    assert timeline.path == case.path


def test_items_fill_every_track_without_overlap(case: Case):
    for track in case.timeline().tracks:
        at = 0
        for item in track.items:
            assert item.start == at
            at = item.span.end


def test_what_is_heard_follows_from_tracks_and_streams(case: Case):
    heard = {
        (track.name, clip.start, clip.plays_sound)
        for track in case.timeline().tracks
        for clip in track.clips()
    }
    assert ("Interview", 0, True) in heard
    assert ("Cutaways", 150, False) in heard
    assert ("Cutaways", 150, True) not in heard
    assert ("Music", 20, True) in heard


def test_what_is_seen_follows_from_tracks_and_streams(case: Case):
    seen = {(t.name, c.start) for t in case.timeline().tracks for c in t.clips() if c.plays_picture}
    assert seen == {("Interview", 0), ("Interview", 80), ("Interview", 160), ("Cutaways", 150)}


def test_bin_holds_every_rush(case: Case):
    found = {clip.name: clip for clip in case.timeline().bin}
    assert list(found) == [rush.name for rush in RUSHES]
    for rush in RUSHES:
        clip = found[rush.name]
        assert clip.source.path == case.path.parent / rush.file
        assert clip.source.length == rush.length
        assert clip.source.has_picture == rush.picture
        assert clip.tags == rush.tags
        # Shotcut's bin has no folders.
        assert clip.folder == ("" if case.layout == "shotcut" else rush.folder)
        assert clip.zones == ()
    assert found[TALK.name].notes == TALK.note
    assert not found[MUSIC.name].notes


def test_markers_are_the_marks(case: Case):
    assert [(marker.at, marker.text) for marker in case.timeline().markers] == [
        (mark.at, mark.text) for mark in FILM.marks
    ]
    assert not any(marker.ours for marker in case.timeline().markers)


def test_picture_and_sound_are_linked_only_where_they_are_two_clips(case: Case):
    timeline = case.timeline()
    if case.layout != "kdenlive":
        assert timeline.linked == ()
        return
    picture = case.track("Interview", TrackKind.PICTURE).index
    sound = case.track("Interview", TrackKind.SOUND).index
    assert picture != sound
    assert {frozenset(pair) for pair in timeline.linked} == {
        frozenset({(picture, start), (sound, start)}) for start in (0, 80, 160)
    }


def test_saving_without_an_edit_changes_nothing(case: Case):
    document = load(case.path)
    saved = save(document, case.path.with_name("again.mlt"))
    original, again = (
        etree.tostring(etree.parse(str(path)), method="c14n", with_comments=True)
        for path in (case.path, saved)
    )
    assert again == original


@pytest.mark.parametrize(
    ("change", "differs"),
    [
        (lambda part: part.set("id", "another"), False),
        (lambda part: part.set("in", "3"), True),
        (lambda part: put(part, "shotcut:caption", "another"), True),
        (lambda part: put(part, "audio_index", "-1"), True),
        (lambda part: part.append(etree.fromstring(CROP)), True),
    ],
)
def test_parts_of_clips_are_told_apart_by_all_but_their_ids(change, differs, tmp_path):
    document = write_case("shotcut", FILM, tmp_path).document()
    track = timeline_of(document).tracks[0]
    first, second = (next(c for c in track.clips() if c.start == at) for at in (0, 80))
    entries = [entry for entry in document.root.iter("entry") if entry.getparent().get("id") == "playlist0"]
    part = next(p for p in document.root if p.get("id") == entries[1].get("producer"))
    change(part)
    entries[1].set("producer", part.get("id"))
    clips = {c.start: c for c in timeline_of(document).tracks[0].clips()}
    assert clips[0] == first
    assert (clips[80] != second) is differs


def test_the_collector_works_on_when_a_document_has_been_read(case: Case):
    assert gc.isenabled()
    case.timeline()
    assert gc.isenabled()
