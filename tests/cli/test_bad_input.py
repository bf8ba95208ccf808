"""What cannot be done is said in one line and leaves nothing behind; what can go on goes on."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import replace

import numpy as np
import pytest
import soundfile
from lxml import etree

import mltassist
from mltassist.demofilm.film import Lane, Placement, Rush
from mltassist.demofilm.scenario import MUSIC_FILE
from mltassist.frames import Rate
from mltassist.timeline.cuts import CutKind
from mltassist.timeline.elements import Element
from tests import passes
from tests.cli.conftest import digest
from tests.cli.films import (
    EXAMPLE,
    LAYOUTS,
    at_rate,
    locked,
    short,
    switched_off,
    with_file,
    without_folder,
    write,
)

PAUSE = ("--at", "f700", "--length", "2")
BINS = ("main_bin", "main bin")
COMMANDS = {"survey": (), "listen": (), "cover": (), "duck": (), "pause": PAUSE, "rough": ()}
BOMB = "<!DOCTYPE mlt [<!ENTITY a 'aaaaaaaa'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'>]><mlt>&b;</mlt>"
NO_PROJECTS = {
    "not XML": ("Project: my film", "not well-formed XML at line 1"),
    "cut off": ("<?xml version='1.0'?>\n<mlt>\n<profile", "not well-formed XML at line 3"),
    "empty": ("", "not well-formed XML"),
    "another kind of XML": ("<svg/>", "an XML file of another kind, <svg>"),
    "entity bomb": (BOMB, "declares a document type or entities"),
    "outside entity": (
        "<!DOCTYPE mlt [<!ENTITY a SYSTEM 'file:///etc/passwd'>]><mlt>&a;</mlt>",
        "declares a document type or entities",
    ),
    "document type": ("<!DOCTYPE mlt><mlt/>", "declares a document type or entities"),
    "no profile": ("<mlt/>", "has no frame rate"),
    "no rate": ("<mlt><profile width='640'/></mlt>", "has no frame rate"),
    "impossible rate": (
        "<mlt><profile frame_rate_num='0' frame_rate_den='1'/></mlt>",
        "has no frame rate",
    ),
    "no timeline": (
        "<mlt><profile frame_rate_num='25' frame_rate_den='1'/><producer id='a'/></mlt>",
        "has no timeline",
    ),
}


def left_alone(folder, path, before):
    """Nothing was added to the folder and the project is what it was."""
    assert {p.name for p in folder.iterdir()} <= {"media", path.name}
    assert digest(path) == before


# --- documents --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("kind", NO_PROJECTS)
def test_a_file_that_is_no_usable_project_is_refused(tmp_path, run, name, kind):
    text, why = NO_PROJECTS[kind]
    path = tmp_path / "film.mlt"
    path.write_text(text, encoding="utf-8")
    before = digest(path)
    told = run(name, path, *COMMANDS[name]).refused()
    assert f"{path}: " in told
    assert why in told
    left_alone(tmp_path, path, before)


@pytest.mark.parametrize("name", COMMANDS)
def test_what_is_not_there_or_is_a_folder_is_refused(tmp_path, run, name):
    assert "no such file" in run(name, tmp_path / "none.mlt", *COMMANDS[name]).refused()
    assert "a folder" in run(name, tmp_path, *COMMANDS[name]).refused()
    assert "a folder" in run(name, ".", *COMMANDS[name]).refused()
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_timeline_with_nothing_on_it_is_refused(tmp_path, run, layout):
    path = write(short(), tmp_path, layout)
    tree = etree.parse(path)
    for playlist in tree.getroot().iter("playlist"):
        if playlist.get("id") not in BINS:
            for item in (*playlist.findall("entry"), *playlist.findall("blank")):
                playlist.remove(item)
    tree.write(path, encoding="utf-8", xml_declaration=True)
    assert mltassist.open(path).timeline.length == 0
    for name in ("cover", "duck", "rough"):
        assert "no speech was found" in run(name, path).refused()
    assert "beyond the end" in run("pause", path, *PAUSE).refused()


# --- media ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_missing_cutaway_is_named_and_the_others_are_laid(tmp_path, run, layout):
    path = with_file(write(short(), tmp_path, layout), "cutaways/wheel-ws.mp4", "cutaways/gone.mp4")
    ran = run("cover", path)
    assert ran.status == 1
    assert ran.err.splitlines() == [
        f"check: cutaway 'wheel WS' is left out: {tmp_path}/media/cutaways/gone.mp4 is not there"
    ]
    made = mltassist.open(next(tmp_path.glob("*-cover.*"))).timeline.of_role("cover")
    assert made is not None
    assert all(clip.source.path is not None and clip.source.path.exists() for clip in made.clips())
    assert "wheel WS" in run("survey", path).err


@pytest.mark.parametrize("name", ["survey", "listen", "cover", "duck", "pause"])
def test_a_missing_interview_is_named_with_its_place(tmp_path, run, name):
    path = with_file(write(short(), tmp_path), "media/interview/ines.mp4", "media/interview/gone.mp4")
    ran = run(name, path, *COMMANDS[name])
    assert ran.status == 1
    assert "Traceback" not in ran.err
    first = [line for line in ran.err.splitlines() if "gone.mp4" in line]
    assert len(first) == 1
    assert first[0].startswith("check: 00:00:11:13  ")


def test_missing_music_is_named_with_its_place(tmp_path, run):
    path = with_file(write(short(), tmp_path), MUSIC_FILE, "media/music/gone.ogg")
    for name in ("duck", "rough"):
        ran = run(name, path)
        assert ran.status == 1
        assert [line.split("  ")[0] for line in ran.err.splitlines()] == ["check: 00:00:04:20"]
        assert "gone.ogg" in ran.err


@pytest.mark.parametrize("layout", ["host.kdenlive", "shotcut.mlt"])
def test_an_empty_bin_has_no_cutaways(tmp_path, run, layout):
    path = write(short(), tmp_path, layout)
    tree = etree.parse(path)
    listing = next(p for p in tree.getroot().iter("playlist") if p.get("id") in BINS)
    kept = {p.get("id") for p in tree.getroot().iter("tractor")}
    for entry in listing.findall("entry"):
        if entry.get("producer") not in kept:
            listing.remove(entry)
    tree.write(path, encoding="utf-8", xml_declaration=True)
    assert mltassist.open(path).timeline.bin == ()
    before = digest(path)
    assert "no cutaway in the bin" in run("cover", path).refused()
    left_alone(tmp_path, path, before)
    ran = run("pause", path, *PAUSE)
    assert ran.status == 1
    assert "check: 00:00:28:00  no natural sound was found" in ran.err


def test_without_cutaways_cover_is_refused_and_the_rough_pass_says_so(tmp_path, run):
    path = write(without_folder(short(), "Cutaways"), tmp_path)
    assert "no cutaway in the bin" in run("cover", path).refused()
    ran = run("rough", path)
    assert ran.status == 1
    assert ran.err.startswith("check: there is no cutaway in the bin; ")
    assert len(ran.err.splitlines()) == 1


def test_without_music_the_film_is_measured_all_the_same(tmp_path, run):
    path = write(without_folder(short(), "Music", "Natural sound"), tmp_path)
    for name in ("duck", "rough"):
        ran = run(name, path, "--normalise", "--json")
        assert "music" not in ran.err
        assert name == "rough" or (ran.status, ran.err) == (0, "")
        mix = json.loads(ran.out)["figures"]["mix"]
        assert mix["after"]["integrated_lufs"] == pytest.approx(-23, abs=0.1)
        made = mltassist.open(json.loads(ran.out)["output"]).timeline
        assert len(made.levels) == 1
    assert made.of_role("cover") is not None


def test_a_film_of_which_files_are_gone_gets_no_gain(tmp_path, run):
    path = with_file(write(short(), tmp_path), "media/narration/narrator.m4a", "media/narration/gone.m4a")
    ran = run("duck", path, "--normalise", "--json")
    assert ran.status == 1
    told = json.loads(ran.out)
    assert told["figures"]["mix"]["gain_to_target_db"] is None
    assert not any(edit["edit"] == "SetFilmGain" for edit in told["edits"])
    (line,) = (line for line in ran.err.splitlines() if "the film gets no gain" in line)
    assert line.startswith("check: 1 of ")
    assert "to -23 LUFS: no gain is told" in run("duck", path, "--dry-run").out


@pytest.mark.parametrize("silent", [("Music",), ("Interview", "Narration")])
def test_a_muted_track_is_named_and_not_called_unnamed(tmp_path, run, silent):
    path = write(short(), tmp_path, "shotcut.mlt")
    tree = etree.parse(path)
    named = [
        p.getparent().get("id")
        for p in tree.iterfind(".//property[@name='shotcut:name']")
        if p.text in silent
    ]
    for track in tree.iter("track"):
        if track.get("producer") in named:
            track.set("hide", "both" if track.get("hide") == "video" else "audio")
    tree.write(path)
    ran = run("duck", path)
    assert f"the sound of track {silent[0]!r} is switched off: switch it on" in ran.err
    assert ran.status == (0 if silent == ("Music",) else 2)


@pytest.mark.parametrize("name", ["cover", "duck", "rough", "listen"])
def test_music_on_a_track_without_a_name_is_not_taken_for_speech(tmp_path, run, name):
    (tmp_path / "piece.ogg").symlink_to(EXAMPLE / MUSIC_FILE)
    rush = Rush("piece.ogg", "piece", "", (), 1000, picture=False, sound=True)
    lane = Lane("", picture=False, sound=True, placements=(Placement("piece.ogg", 0, 0, 1000),))
    path = write(replace(short(), rushes=(*short().rushes, rush), lanes=(lane,)), tmp_path)
    assert "no speech was found" in run(name, path).refused()
    assert not list(tmp_path.glob("*-*"))


def test_an_interview_in_which_nobody_speaks_leaves_the_music_as_it_is(tmp_path, run):
    path = write(without_folder(short(), "Narration"), tmp_path)
    soundfile.write(tmp_path / "silence.wav", np.zeros((80 * 48000, 1), np.float32), 48000)
    with_file(path, "media/interview/ines.mp4", "silence.wav")
    ran = run("duck", path)
    assert ran.status == 1
    assert ran.err == "check: nobody is heard speaking: the music stays as it is\n"
    made = tmp_path / "host-duck.kdenlive"
    assert len(list(etree.parse(made).iter("filter"))) == len(list(etree.parse(path).iter("filter")))
    ran = run("cover", path)
    assert ran.status == 0
    assert "0 left" in ran.out


# --- tracks -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", ["host.kdenlive", "shotcut.mlt"])
def test_a_pause_over_a_locked_track_is_refused_by_its_name(tmp_path, run, layout):
    path = locked(write(short(), tmp_path, layout), "Interview")
    before = digest(path)
    for arguments in (("pause", path, *PAUSE), ("rough", path, "--pause", "f700=2")):
        told = run(*arguments).refused()
        assert "(Interview) is locked; unlock it first" in told
    left_alone(tmp_path, path, before)
    assert run("cover", path).status == 0  # cover needs no locked track to change


@pytest.mark.parametrize("layout", ["host.kdenlive", "shotcut.mlt"])
def test_music_on_a_locked_track_stays_as_it_is(tmp_path, run, layout):
    path = locked(write(short(), tmp_path, layout), "Music")
    ran = run("duck", path)
    assert ran.status == 1
    assert ran.err.splitlines() == [
        "check: 00:00:04:20  music 'creek music' is on a locked track and stays as it is"
    ]
    made = next(tmp_path.glob("*-duck.*"))
    before, after = (
        [
            clip.levels
            for track in mltassist.open(one).timeline.tracks
            if track.locked
            for clip in track.clips()
        ]
        for one in (path, made)
    )
    assert after == before
    assert before


@pytest.mark.parametrize("layout", ["host.kdenlive", "shotcut.mlt"])
def test_a_level_curve_of_ours_on_a_track_locked_since_stays_too(tmp_path, run, layout):
    path = write(short(700), tmp_path, layout)
    ducked, again = (tmp_path / f"{name}{path.suffix}" for name in ("ducked", "again"))
    assert run("duck", path, "-o", ducked).status == 0
    # It lies where it should, so nothing is left for the editor to do.
    assert run("duck", locked(ducked, "Music"), "-o", again).status == 0
    count = len(list(etree.parse(ducked).iter("filter")))
    assert count > len(list(etree.parse(path).iter("filter")))
    assert len(list(etree.parse(again).iter("filter"))) == count


def test_a_muted_interview_is_no_speech(tmp_path, run):
    path = switched_off(write(without_folder(short(), "Narration"), tmp_path), "Interview")
    for name in ("cover", "duck", "rough", "listen"):
        assert "no speech was found" in run(name, path).refused()


def test_a_muted_music_track_is_no_music(tmp_path, run):
    path = switched_off(write(short(), tmp_path), "Music")
    ran = run("duck", path)
    assert ran.status == 0
    assert ran.err == "note: no music is heard: the sound of track 'Music' is switched off: switch it on\n"


def test_a_hidden_cutaway_covers_nothing(tmp_path, run):
    seen = mltassist.survey(mltassist.open(write(short(), tmp_path)))
    path = switched_off(write(short(), tmp_path), "Cutaways")
    hidden = mltassist.survey(mltassist.open(path))
    assert [cut.covered for cut in seen.cuts].count(True) == 1
    assert [cut.covered for cut in hidden.cuts].count(True) == 0
    assert run("cover", path).status == 0
    after = mltassist.survey(mltassist.open(tmp_path / "host-cover.kdenlive"))
    assert all(cut.covered for cut in after.cuts if cut.kind is CutKind.JUMP)


# --- where the result goes --------------------------------------------------------------------------


def other_names(path):
    """The same file under other names."""
    folder = path.parent
    link, hard = folder / "link.kdenlive", folder / "hard.kdenlive"
    link.symlink_to(path)
    os.link(path, hard)
    (folder / "sub").mkdir()
    (folder / "again").symlink_to(folder)
    dotted = f"{folder}/./{path.name}"
    return [path, dotted, folder / "sub" / ".." / path.name, folder / "again" / path.name, link, hard]


def test_the_original_is_never_written_to_under_any_name(tmp_path, run, monkeypatch):
    path = write(short(), tmp_path)
    before = digest(path)
    names = other_names(path)
    monkeypatch.chdir(tmp_path)
    for target in (*names, path.name):
        for option in ("-o", "--plan"):
            told = run("pause", path, *PAUSE, option, target, "--force").refused()
            assert "is the project that was read" in told
    assert digest(path) == before
    assert (tmp_path / "link.kdenlive").is_symlink()


@pytest.mark.parametrize("name", ["cover", "duck", "pause", "rough"])
def test_a_place_that_cannot_be_written_is_refused_before_the_work(tmp_path, run, name):
    path = write(short(), tmp_path)
    before = digest(path)
    for target in (path / "out.kdenlive", tmp_path / "none" / "out.kdenlive"):
        for option in ("-o", "--plan"):
            assert "folder does not exist" in run(name, path, *COMMANDS[name], option, target).refused()
    assert "is a folder" in run(name, path, *COMMANDS[name], "-o", tmp_path).refused()
    left_alone(tmp_path, path, before)


def test_a_disk_that_fails_leaves_no_half_file(tmp_path, run, monkeypatch):
    path = write(short(), tmp_path)
    before = digest(path)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert "No space left on device" in run("pause", path, *PAUSE).refused()
    left_alone(tmp_path, path, before)


# --- places -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "why"),
    [
        ("no such marker", "no marker says 'no such marker'"),
        ("f99999", "beyond the end"),
        ("01:00:00:00", "beyond the end"),
        ("00:00:10:25", "not a timecode at 25 frames a second"),
        ("00:00:10;05", "drop-frame timecode, which 25 frames a second does not use"),
        ("twice", "2 markers say 'twice'"),
        ("", "no marker says ''"),
    ],
)
def test_a_place_the_film_does_not_have_is_refused(tmp_path, run, place, why):
    made = short()
    twice = tuple(replace(mark, text="twice") for mark in made.marks * 2)
    path = write(replace(made, marks=(*made.marks, twice[0], replace(twice[1], at=800))), tmp_path)
    before = digest(path)
    assert why in run("pause", path, "--at", place, "--length", "2").refused()
    if place:
        assert why in run("rough", path, "--pause", f"{place}=2").refused()
    left_alone(tmp_path, path, before)


def test_a_label_that_drop_frame_counting_leaves_out_is_refused(tmp_path, run):
    path = write(at_rate(Rate(30000, 1001)), tmp_path)
    told = run("pause", path, "--at", "00:01:00;01", "--length", "2").refused()
    assert "drop-frame timecode leaves that label out" in told


# --- recipes ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", COMMANDS)
def test_a_recipe_with_mistakes_is_refused_with_all_of_them(tmp_path, run, name):
    path = write(short(), tmp_path)
    before = digest(path)
    recipe = tmp_path / "house.toml"
    arguments = (name, path, *COMMANDS[name], "--recipe", recipe)
    assert "cannot be read" in run(*arguments).refused()
    recipe.write_text("[cover\n", encoding="utf-8")
    assert "not TOML" in run(*arguments).refused()
    recipe.write_text(
        "[cover]\nshot_min = 2\nmargin_s = 'half'\n[duck]\nseparation_lu = true\n[colour]\nx = 1\n",
        encoding="utf-8",
    )
    told = run(*arguments).refused()
    for mistake in ("shot_min", "margin_s", "separation_lu", "colour"):
        assert mistake in told
    recipe.unlink()
    left_alone(tmp_path, path, before)


# --- odd rates --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layout", "rate", "looking"),
    [
        ("plain.mlt", Rate(24000, 1001), ()),
        ("host.kdenlive", Rate(30000, 1001), ("--no-look",)),
        ("shotcut.mlt", Rate(24000, 1001), ("--no-look",)),
    ],
)
def test_broadcast_rates_keep_every_frame(tmp_path, run, layout, rate, looking):
    # At every rate the pictures are looked at anew: some of them, and half of each, are enough.
    made = short()
    laid = {spot.file for lane in made.lanes for spot in lane.placements}
    spare = [rush for rush in made.rushes if "/cutaways/" in rush.file and rush.file not in laid]
    left = [rush for rush in made.rushes if rush not in spare]
    brief = (*left, *(replace(rush, length=125) for rush in spare[::3]))
    path = write(at_rate(rate, replace(made, rushes=brief)), tmp_path, layout)
    before = mltassist.open(path).timeline
    assert before.rate == rate
    covered, paused = (tmp_path / f"{name}{path.suffix}" for name in ("covered", "paused"))
    refused = run("cover", path, "--dry-run")
    assert "frames a second in a film of" in refused.err
    assert "shots laid      0" in refused.out
    recipe = tmp_path / "house.toml"
    recipe.write_text("[cover]\nother_rates = true\n", encoding="utf-8")
    with passes.closely():  # so few are hardly enough
        assert run("cover", path, "--recipe", recipe, "-o", covered, *looking).status == 0
    after = mltassist.survey(mltassist.open(covered))
    jumps = [cut for cut in after.cuts if cut.kind is CutKind.JUMP]
    assert len(jumps) == 3
    assert all(cut.covered for cut in jumps)
    assert run("pause", covered, "--at", "let the wheel be heard", "--length", "3", "-o", paused).status == 0
    opened = rate.frames(3)
    at = next(marker.at for marker in before.markers)
    film = mltassist.open(paused).timeline
    assert film.length == before.length + opened
    was = {
        (track.name, track.kind): [(c.start, c.length, c.source_in) for c in track.clips()]
        for track in before.tracks
        if track.name != "Music"
    }
    for track in film.tracks:
        for start, length, source_in in was.get((track.name, track.kind), ()):
            if start + length <= at or start >= at:
                moved = (start + opened * (start >= at), length, source_in)
                assert moved in [(c.start, c.length, c.source_in) for c in track.clips()]
    natural = film.of_role("natural picture")
    assert natural is not None
    assert [(c.start, c.length) for c in natural.clips()] == [(at, opened)]
    elements = after.elements
    assert {elements.of_source(clip.source.key) for clip in natural.clips()} == {Element.NATURAL}


def test_a_project_on_a_path_with_spaces_and_accents_is_written_beside_itself(tmp_path, run):
    folder = tmp_path / "Été à Saltreed"
    folder.mkdir()
    path = write(short(), folder)
    shutil.move(path, folder / "le film.kdenlive")
    assert run("pause", folder / "le film.kdenlive", *PAUSE).status == 0
    assert (folder / "le film-pause.kdenlive").is_file()


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_sequence_that_is_not_there_is_refused_in_every_layout(tmp_path, run, name):
    ran = run("survey", write(short(), tmp_path, name), "--sequence", "teaser")
    assert (ran.status, ran.out) == (2, "")
    assert "has no sequence 'teaser'" in ran.err
