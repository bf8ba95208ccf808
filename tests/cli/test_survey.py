"""What `survey` and `listen` report of the example film."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import pytest

from mltassist.demofilm.scenario import film
from mltassist.recipe.rules import load_recipe
from mltassist.timeline.cuts import CutKind
from mltassist.timeline.elements import Element
from tests.cli.films import DOCUMENTS, short, write
from tests.rushes.labelled import nameless

ITEM = {"kind", "start", "length", "source", "source_in", "name"}
TRACK = {"index", "name", "kind", "element", "why", "locked", "hidden", "items"}
CLIP = {"name", "source", "folder", "tags", "element", "size", "subjects", "length"}
CUT = {"at", "track", "kind", "covered", "removed"}


@pytest.fixture(params=DOCUMENTS)
def surveyed(request, folder, run, untouched):
    ran = run("survey", folder / request.param, "--json")
    assert ran.status == 0
    assert ran.err == ""
    return json.loads(ran.out)


def test_the_survey_has_the_keys_it_promises(surveyed):
    assert surveyed["rate"] == [25, 1]
    assert surveyed["length"] == film().length
    assert surveyed["host"] in ("mlt", "kdenlive", "shotcut")
    for track in surveyed["tracks"]:
        assert track.keys() >= TRACK
        assert track["kind"] in ("picture", "sound")
        assert track["element"] in {*Element, None}
        assert track["locked"] is track["hidden"] is False
        assert all(item.keys() >= ITEM for item in track["items"])
        assert {item["kind"] for item in track["items"]} <= {"clip", "gap", "dissolve"}
    assert all(clip.keys() >= CLIP for clip in surveyed["bin"])
    assert all(cut.keys() == CUT for cut in surveyed["cuts"])
    assert {cut["kind"] for cut in surveyed["cuts"]} <= set(CutKind)


def test_the_survey_has_the_edit_that_the_documents_were_written_from(surveyed):
    made = film()
    bites = made.lanes[0].placements
    wanted = []
    for left, right in pairwise(bites):
        if left.start + left.length != right.start:
            continue
        removed = right.source_in - left.source_in - left.length if left.file == right.file else 0
        kind = "change" if left.file != right.file else "jump" if removed else "through"
        wanted.append((right.start, kind, removed))
    assert [(cut["at"], cut["kind"], cut["removed"]) for cut in surveyed["cuts"]] == wanted
    hidden = made.lanes[1].placements[0]
    over = range(hidden.start, hidden.start + hidden.length)
    assert [cut["at"] for cut in surveyed["cuts"] if cut["covered"]] == [
        at for at, *_ in wanted if at in over
    ]
    named = {track["index"]: track for track in surveyed["tracks"]}
    assert all(named[cut["track"]]["element"] == "interview" for cut in surveyed["cuts"])
    for lane in made.lanes:
        tracks = [track for track in surveyed["tracks"] if track["name"] == lane.name]
        for track in tracks:
            clips = [item for item in track["items"] if item["kind"] == "clip"]
            assert [(c["start"], c["length"], c["source_in"]) for c in clips] == [
                (spot.start, spot.length, spot.source_in) for spot in lane.placements
            ]
            assert all(c["source"].endswith(s.file) for c, s in zip(clips, lane.placements, strict=True))
        assert tracks


def test_the_bin_has_every_rush_with_its_length(surveyed):
    made = {rush.name: rush for rush in film().rushes}
    assert {clip["name"] for clip in surveyed["bin"]} == made.keys()
    for clip in surveyed["bin"]:
        rush = made[clip["name"]]
        assert clip["length"] == rush.length
        assert clip["source"].endswith(rush.file)
        expected = (
            "natural sound" if rush.folder == "Natural sound" else rush.folder.partition("/")[0].lower()
        )
        assert clip["element"] == expected.removesuffix("s" if expected != "natural sound" else "")
    sizes = {clip["name"]: clip["size"] for clip in surveyed["bin"]}
    assert sizes["flour ECU"] == "ECU"
    assert sizes["creek music"] == ""


def test_the_table_names_tracks_elements_and_edits(folder, run):
    ran = run("survey", folder / "saltreed.kdenlive")
    assert ran.status == 0
    assert "saltreed.kdenlive: kdenlive project" in ran.out
    assert "rushes to film (interviews, cutaways, natural sound): " in ran.out
    for words in ("track name says 'music'", "through", "covered", "Cutaways/Flour"):
        assert words in ran.out


def test_names_with_brackets_and_colons_are_shown_as_they_are(tmp_path, run):
    name = "Music [v2] [/b] :smile:"
    lanes = tuple(replace(lane, name=name) if lane.name == "Music" else lane for lane in short().lanes)
    assert name in run("survey", write(replace(short(), lanes=lanes), tmp_path)).out


def test_listen_measures_every_edit(folder, run, untouched):
    ran = run("listen", folder / "saltreed.mlt", "--json")
    assert ran.status == 0
    assert ran.err == ""
    heard = json.loads(ran.out)["joins"]
    cuts = json.loads(run("survey", folder / "saltreed.mlt", "--json").out)["cuts"]
    assert [join["at"] for join in heard] == [cut["at"] for cut in cuts]
    # Every voice was recorded at one level.
    assert all(abs(join["speech_step_db"]) < 3 for join in heard)


@pytest.fixture
def bare(tmp_path):
    """The example film without its names: a folder and its document."""
    return nameless.write(nameless.nameless(), tmp_path, "host.kdenlive")


@pytest.fixture
def strict(tmp_path):
    """A recipe by which the narration's chance is no sureness."""
    path = tmp_path / "strict.toml"
    path.write_text("[guesses]\nsure = 0.98\n", encoding="utf-8")
    return path


def test_a_project_without_names_is_told_folder_by_folder_and_what_is_a_guess(bare, strict, run):
    ran = run("survey", bare, "--recipe", strict)
    rows = ran.out.splitlines()
    assert sum(row.startswith("Part 1 ") for row in rows) == 1
    assert sum(row.startswith("Part 2 ") for row in rows) == 1
    for words in ("sure, by evidence", "a guess", "nobody speaks in it", "it sounds like music", "--pins"):
        assert words in ran.out
    assert ran.out.count("C0003.m4a") == 1
    assert "no name tells" not in ran.err  # told in the tables


def test_json_has_the_chance_and_the_evidence(bare, strict, run):
    told = json.loads(run("survey", bare, "--recipe", strict, "--json").out)
    clips = {clip["name"]: clip for clip in told["bin"]}
    face = clips["C0001.mp4"]
    assert (face["element"], face["sure"], face["seems"], face["also"]) == (
        "interview",
        True,
        "interview",
        [],
    )
    assert 0.95 < face["chance"] <= 1
    assert "speech" in face["evidence"][0]["fact"]
    assert face["evidence"][0]["weight"] > 0
    assert clips["C0003.m4a"]["sure"] is False
    assert clips["C0040.mp4"]["also"] == ["natural sound"]


def test_guesses_are_written_as_a_recipe_that_can_be_corrected(bare, strict, run):
    house = bare.with_name("house.toml")
    ran = run("survey", bare, "--pins", house, "--recipe", strict)
    assert ran.status == 0
    assert f"written: {house}" in ran.out
    recipe = load_recipe(house)
    assert len(recipe.pins) == 41
    assert recipe.pins["C0003.m4a"] is Element.NARRATION
    assert set(recipe.also.values()) == {Element.NATURAL}
    text = house.read_text(encoding="utf-8")
    assert '"C0003.m4a" = "narration"  # a guess, narration (' in text
    before = json.loads(run("survey", bare, "--json").out)
    after = json.loads(run("survey", bare, "--recipe", house, "--json").out)
    for one, other in zip(before["bin"], after["bin"], strict=True):
        assert (one["element"], one["also"]) == (other["element"], other["also"])
        assert other["why"] == "pinned by the recipe"
    house.write_text(text.replace('"C0004.mp4" = "cutaway"', '"C0004.mp4" = "interview"'))
    corrected = json.loads(run("survey", bare, "--recipe", house, "--json").out)["bin"]
    assert {c["element"] for c in corrected if c["name"] == "C0004.mp4"} == {"interview"}


def test_a_recipe_that_exists_and_the_project_itself_are_not_overwritten(bare, run):
    house = bare.with_name("house.toml")
    house.write_text("# mine\n", encoding="utf-8")
    assert "--force" in run("survey", bare, "--pins", house).refused()
    assert house.read_text(encoding="utf-8") == "# mine\n"
    run("survey", bare, "--pins", bare, "--force").refused()
    assert run("survey", bare, "--pins", house, "--force").status == 0
    assert "[pins]" in house.read_text(encoding="utf-8")


def test_pins_tell_files_of_one_name_apart(tmp_path, run):
    made = nameless.nameless()
    first, second = (rush for rush in made.film.rushes if rush.file.endswith(("C0004.mp4", "C0005.mp4")))
    twin = replace(second, name=first.name, file=second.file.replace("C0005", "C0004"))
    assert twin.file != first.file
    rushes = tuple(twin if rush is second else rush for rush in made.film.rushes)
    was = {(twin.file if new == second.file else new): old for new, old in made.was.items()}
    path = nameless.write(
        replace(made, film=replace(made.film, rushes=rushes), was=was), tmp_path, "plain.mlt"
    )
    house = tmp_path / "house.toml"
    assert run("survey", path, "--pins", house).status == 0
    pins = load_recipe(house).pins
    assert {pattern for pattern in pins if "C0004" in pattern} == {
        "*/Part 1/C0004.mp4",
        "*/Part 2/C0004.mp4",
    }


def test_a_missing_file_is_told_in_one_line(bare, run):
    gone = next(bare.parent.rglob("C0007.mp4"))
    gone.unlink()
    ran = run("survey", bare)
    assert sum("C0007.mp4" in line for line in ran.err.splitlines()) == 1
