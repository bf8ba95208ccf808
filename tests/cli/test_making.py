"""The commands that write a new project: names, plans, streams and exit statuses."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest

import mltassist
from mltassist.cli.screen import _figure_rows, print_plan
from mltassist.frames import Rate, format_timecode
from mltassist.plans import Plan
from tests.cli.conftest import digest
from tests.cli.films import DOCUMENTS, EXAMPLE, resources, scarce, short, write

ROOT = Path(__file__).parents[2]
ARGUMENTS = {
    "rough": ("--pause", "let the wheel be heard=2"),
    "cover": (),
    "duck": (),
    "pause": ("--at", "f786", "--length", "2"),
}
WHAT_IT_MAKES = {
    "rough": {"ClearOurs", "OpenPause", "LayNatural", "LayShot", "SetLevelCurve"},
    "cover": {"ClearOurs", "LayShot"},
    "duck": {"ClearOurs", "SetLevelCurve"},
    "pause": {"OpenPause", "LayNatural"},
}
IN_WORDS = {
    "OpenPause": "pause opened",
    "LayNatural": "natural sound",
    "LayShot": "shot",
    "SetLevelCurve": "levels",
}


@pytest.mark.parametrize("name", ARGUMENTS)
def test_the_result_goes_beside_the_original_with_a_plan_of_its_edits(tmp_path, run, name):
    path = write(short(), tmp_path)
    before, plan_file = digest(path), tmp_path / "edits.json"
    ran = run(name, path, *ARGUMENTS[name], "--plan", plan_file)
    assert ran.status == 0
    assert ran.err == ""
    made = tmp_path / f"host-{name}.kdenlive"
    assert ran.out.splitlines()[-1] == f"written: {made}"
    assert digest(path) == before
    assert {p.name for p in tmp_path.iterdir()} == {"media", path.name, made.name, plan_file.name}
    plan = json.loads(plan_file.read_text(encoding="utf-8"))
    assert (plan["command"], plan["rate"]) == (name, [25, 1])
    assert {edit["edit"] for edit in plan["edits"]} == WHAT_IT_MAKES[name]
    for edit in plan["edits"]:
        assert edit["reason"]
        if edit["edit"] in ("LayShot", "LayNatural"):
            assert edit["length"] > 0
            assert Path(edit["source"]).is_file()
    # The plan's edits, carried out on the original, are the project that was written.
    edits = Plan.load(plan_file).edits
    again = mltassist.open(path).with_edits(edits).save(tmp_path / "again.kdenlive")
    assert again.read_bytes() == made.read_bytes()


def test_a_name_that_is_taken_is_numbered(tmp_path, run):
    path = write(short(), tmp_path)
    names = []
    for _ in range(3):
        ran = run("pause", path, *ARGUMENTS["pause"], "--json")
        names.append(Path(json.loads(ran.out)["output"]).name)
    assert names == ["host-pause.kdenlive", "host-pause-2.kdenlive", "host-pause-3.kdenlive"]


@pytest.mark.parametrize("name", ARGUMENTS)
def test_a_dry_run_shows_every_edit_and_writes_nothing(tmp_path, run, name):
    path = write(short(), tmp_path)
    ran = run(name, path, *ARGUMENTS[name], "--dry-run")
    assert ran.status == 0
    assert ran.err == ""
    assert ran.out.splitlines()[-1] == "nothing written: dry run"
    for kind in WHAT_IT_MAKES[name] - {"ClearOurs"}:
        assert re.search(rf"^(?:\d\d:\S+)? +{IN_WORDS[kind]} ", ran.out, re.MULTILINE), kind
        assert kind not in ran.out
    assert "earlier run" not in ran.out  # there was none
    assert {p.name for p in tmp_path.iterdir()} == {"media", path.name}


def test_what_an_earlier_run_left_is_told_to_be_taken_out(tmp_path, run):
    path = write(short(), tmp_path)
    assert run("pause", path, *ARGUMENTS["pause"], "-o", tmp_path / "paused.mlt").status == 0
    assert "natural sound of an earlier run" in run("clear", tmp_path / "paused.mlt", "--dry-run").out
    assert "earlier run" not in run("clear", path, "--dry-run").out


def test_json_is_all_that_stands_on_standard_output(tmp_path):
    path = write(scarce(short(), "wheel-ws"), tmp_path)
    text = path.read_text(encoding="utf-8").replace("cutaways/wheel-ws.mp4", "cutaways/gone.mp4")
    path.write_text(text, encoding="utf-8")
    code = "from mltassist.cli.main import main; main()"
    ran = subprocess.run(
        [sys.executable, "-c", code, "cover", path, "--json"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 1
    told = json.loads(ran.stdout)
    assert told.keys() == {
        "format", "version", "command", "project", "state", "rate", "edits", "notes", "decisions", "figures",
        "recipe", "output",
    }  # fmt: skip
    assert told["figures"]["jump_cuts_left"] == 0
    assert Path(told["output"]).is_file()
    assert ran.stderr.startswith("check: ")
    assert "gone.mp4" in ran.stderr


def test_an_output_that_exists_is_replaced_only_by_force(tmp_path, run):
    path, target, plan = write(short(), tmp_path), tmp_path / "out.kdenlive", tmp_path / "plan.json"
    target.write_text("mine", encoding="utf-8")
    plan.write_text("mine", encoding="utf-8")
    arguments = ("pause", path, *ARGUMENTS["pause"])
    assert "exists already" in run(*arguments, "-o", target).refused()
    assert "exists already" in run(*arguments, "--plan", plan).refused()
    assert target.read_text(encoding="utf-8") == plan.read_text(encoding="utf-8") == "mine"
    ran = run(*arguments, "-o", target, "--plan", plan, "--force")
    assert ran.status == 0
    assert mltassist.open(target).timeline.length == short().length + 50
    assert json.loads(plan.read_text(encoding="utf-8"))["command"] == "pause"


def test_project_and_plan_cannot_have_one_name(tmp_path, run):
    path = write(short(), tmp_path)
    arguments = ("pause", path, *ARGUMENTS["pause"])
    same = tmp_path / "same"
    assert "choose another for the plan" in run(*arguments, "-o", same, "--plan", same, "--force").refused()
    default = tmp_path / "host-pause.kdenlive"
    assert "choose another for the plan" in run(*arguments, "--plan", default).refused()
    assert {p.name for p in tmp_path.iterdir()} == {"media", path.name}


def test_the_separation_asked_for_overrules_the_recipe(tmp_path, run):
    path, recipe = write(short(), tmp_path), tmp_path / "house.toml"
    recipe.write_text("[duck]\nseparation_lu = 12.0\n", encoding="utf-8")

    def separations(*arguments: object) -> list[float]:
        told = json.loads(run("duck", path, "--recipe", recipe, "--json", "--dry-run", *arguments).out)
        return [passage["separation_after_lu"] for passage in told["figures"]["passages"]]

    # The recipe speaks of music alone: natural sound, which is all there is at first, stays at its own 15.
    assert separations()[-1] == pytest.approx(12.0, abs=1)
    assert all(20 - 0.5 < found < 23 for found in separations("--separation", "20"))
    # Times may be nothing, as in a recipe: then every rest is a gap.
    assert len(separations("--hold", "0", "--ramp-in", "0", "--ramp-out", "0")) > 5
    for option, text, told in (
        ("--hold", "-1", "-1 should be 0 to 3600"),
        ("--ramp-in", "3601", "3601 should be 0 to 3600"),
        ("--ramp-out", "1/0", '"1/0" is not a number'),
        ("--depth-limit", "-5", "-5 should be 0 to 100"),
        ("--depth-limit", "1e999999999", "is not a number"),
        ("--separation", "40.5", "40.5 should be 0 to 40"),
    ):
        refused = run("duck", path, option, text).refused()
        assert told in refused
        assert option in refused


@pytest.mark.parametrize("document", DOCUMENTS)
def test_media_stay_reachable_from_another_folder(folder, run, document, untouched):
    elsewhere = folder / "exports" / "rough cuts"
    elsewhere.mkdir(parents=True)
    target = elsewhere / document
    assert run("pause", folder / document, "--at", "f1144", "--length", "2", "-o", target).status == 0
    files = resources(target)
    assert {file.resolve() for file in files} == {f.resolve() for f in resources(folder / document)}
    assert len(files) >= 30
    assert all(file.is_file() for file in files)


def test_the_whole_pass_on_the_example_film(passed):
    ran = passed("saltreed.kdenlive")
    assert ran.status == 0
    (asked,) = ran.err.splitlines()  # of the mill itself there is no picture
    assert asked.endswith("'mill' is said 5 times, and no cutaway is tagged so: was it filmed?")
    assert digest(ran.original) == digest(EXAMPLE / "saltreed.kdenlive")
    told = ran.told
    made = mltassist.open(told["output"])
    assert made.timeline.length == mltassist.open(EXAMPLE / "saltreed.kdenlive").timeline.length + 125
    figures = told["figures"]
    assert figures["jump_cuts"] == figures["jump_cuts_covered"] + figures["jump_cuts_covered_by_editor"]
    assert figures["jump_cuts_left"] == 0
    assert figures["pick_ups"] == figures["rules_not_kept"] == []
    assert [place["natural_sound"] for place in figures["pauses"]] == ["wheel splash"]
    beneath = [row for passage in figures["passages"] for row in passage["beneath"]]
    assert {row["sound"] for row in beneath} == {"music", "natural sound"}
    for row in beneath:
        assert row["separation_after_lu"] >= row["target_lu"] - 1
        assert row["depth_db"] == 0 or row["separation_after_lu"] <= row["target_lu"] + 1


def test_pauses_are_given_as_places_of_the_film_as_it_is(tmp_path, run):
    path = write(short(), tmp_path)
    ran = run("rough", path, "--pause", "f533=2", "--pause", "00:00:31:11=2", "--pause", "f901=1", "--json")
    assert ran.status == 0
    tracks = mltassist.open(path).timeline.tracks
    cut = next(track for track in tracks if track.name == "Interview")
    result = mltassist.open(json.loads(ran.out)["output"]).timeline
    now = next(track for track in result.tracks if track.name == "Interview" and track.kind is cut.kind)
    was = {clip.source_in: clip.start for clip in cut.clips()}
    for clip in now.clips():
        if clip.source_in in was:
            start = was[clip.source_in]
            later = 50 * (start >= 533) + 50 * (start >= 786) + 25 * (start >= 901)
            assert clip.start == start + later
    assert Fraction(result.length - short().length, 25) == 5
    natural = result.of_role("natural picture")
    assert natural is not None
    assert [(clip.start, clip.length) for clip in natural.clips()] == [(533, 50), (836, 50), (1001, 25)]
    assert len({clip.source.key for clip in natural.clips()}) == 3  # never the same moment twice


def test_places_without_cutaways_are_each_named_once_and_many_in_one_line(folder, run, untouched):
    (folder / "house.toml").write_text('forbid = ["*"]\n', encoding="utf-8")
    asked = (
        "cover",
        folder / "saltreed.kdenlive",
        "--recipe",
        folder / "house.toml",
        "--no-look",
        "--dry-run",
    )
    ran = run(*asked, "--plan", folder / "edits.json")
    plan = json.loads((folder / "edits.json").read_text(encoding="utf-8"))
    places = [note["at"] for note in plan["notes"] if note["needs_editor"]]
    assert places == [row["at"] for row in plan["figures"]["pick_ups"]] == sorted(set(places))
    left = {note["text"] for note in plan["notes"] if note["needs_editor"]}
    assert left == {"no cutaway is left for this place"}
    # Water is spoken of and was filmed: it is only not to be used. The mill itself was not.
    assert [row["word"] for row in plan["figures"]["unfilmed"]] == ["mill"]
    told, unfilmed = ran.err.splitlines()
    assert "'mill' is said" in unfilmed
    first, *soon = (format_timecode(at, Rate(25)) for at in places[:4])
    assert told.startswith(f"check: {first}  no cutaway is left for this place; ")
    assert told.endswith(f"so it is at {len(places) - 1} more places: {', '.join(soon)} ...")
    wanted = [row["timecode"] for row in plan["figures"]["pick_ups"] if row["subjects"]]
    assert len(wanted) > 9
    assert all(f"{at}  " in ran.out.partition("shots missing   ")[2] for at in wanted)
    unknown = [row | {"subjects": []} for row in plan["figures"]["pick_ups"]]  # nobody can say what to film
    rows = [said for _, said in _figure_rows(plan["figures"] | {"pick_ups": unknown}, Rate(25))]
    assert rows[-1] == f"and {len(places) - 5} more; --json and --plan list them all"
    assert len([said for said in rows if said.startswith("00:")]) == 5


@pytest.mark.parametrize(
    ("layout", "wrong"), [("shotcut.mlt", True), ("plain.mlt", True), ("host.kdenlive", False)]
)
def test_an_ending_that_belongs_to_another_editor_is_refused(tmp_path, run, layout, wrong):
    path = write(short(), tmp_path, layout)
    other = tmp_path / ("new.KDENLIVE" if wrong else "new.mlt")
    ran = run("pause", path, "--at", "f786", "--length", "2", "-o", other)
    assert other.exists() is not wrong
    if wrong:
        assert "document: the editor of such files cannot open it; let it end in .mlt" in ran.refused()


def test_a_mend_of_nothing_writes_nothing(tmp_path, run):
    path = write(short(), tmp_path)
    ran = run("listen", path, "--mend")
    assert ran.status == 0
    assert "nothing written: there is nothing to mend" in ran.out
    assert list(tmp_path.glob("*-listen*")) == []
    with (tmp_path / "edits").open("w"):  # a file where the folder should be
        told = run("listen", path, "--clips", tmp_path / "edits").refused()
    assert told == f"mltassist: {tmp_path / 'edits'}: is a file, not a folder; choose another name"


@pytest.mark.parametrize(
    ("level", "gain", "told"),
    [
        (-23.0, 0.0, "to -23 LUFS: +0.0 dB"),
        (-30.0, 4.2, "to -23 LUFS: +4.2 dB: its true peak allows no more"),
    ],
)
def test_the_true_peak_is_named_only_where_it_limits(capsys, level, gain, told):
    row = {"integrated_lufs": level, "range_lu": 3.0, "peak_dbtp": -5.2}
    mix = {"before": row, "after": row, "target_lufs": -23.0, "gain_to_target_db": gain}
    print_plan(Plan("duck", Path("/film.mlt"), Rate(25), figures={"mix": mix}))
    assert capsys.readouterr().out.splitlines()[-1].rstrip() == told
