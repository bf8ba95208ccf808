"""What the page of each lesson says should come out does, when the commands that it prints are run."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from mltassist.frames import Rate, format_timecode
from tests.docs.lessonry import Lesson, clips, seconds

pytestmark = pytest.mark.usefixtures("closely")
RATE = Rate(25)


@pytest.fixture
def lesson(request: pytest.FixtureRequest, tmp_path) -> Lesson:
    return Lesson(request.param, tmp_path)


def of(name: str) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("lesson", [name], indirect=True)


def at(frame: int) -> str:
    return format_timecode(frame, RATE)


def edits(plan: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [edit for edit in plan["edits"] if edit["edit"] == kind]


@of("shorter-bite")
def test_two_cuts_one_heard_both_hidden(lesson: Lesson) -> None:
    survey, heard, mended, rough = lesson.answers.values()
    first, second = survey["cuts"]
    assert {first["kind"], second["kind"]} == {"jump"}
    lesson.says(
        f"both jumps, at {at(first['at'])} ({first['removed']} frames left out) "
        f"and at {at(second['at'])} ({second['removed']} frames left out)"
    )
    assert [join["verdict"] for join in heard["joins"]] == ["heard", "clean"]
    reason = heard["joins"][0]["reasons"][0]["words"]
    lesson.says(f"the first is *heard*, because {reason}; the second is *clean*")
    assert len(list((lesson.folder / "edits").glob("*.wav"))) == 2
    with pytest.raises(AssertionError, match="holds 2 sound files of an earlier run"):
        lesson.asked(lesson.commands[1])
    lesson.says("it says that `edits` holds 2 sound files of an earlier run", "another folder")
    assert mended["joins"][0]["mended"]["verdict"] == "clean"
    assert mended["joins"][1]["mended"] is None
    assert 0 < abs(mended["joins"][0]["mended"]["at"] - first["at"]) <= 6
    figures = rough["figures"]
    assert figures["rules_not_kept"] == []
    assert figures["face_after_s"] > 10
    lesson.says(
        f"{figures['edits_mended']} edit mended, {figures['edits_heard']} heard; of {figures['jump_cuts']} "
        f"jump cuts {figures['jump_cuts_covered']} are covered and {figures['jump_cuts_left']} left"
    )


@of("music")
def test_music_that_drowned_words_lets_them_be_heard(lesson: Lesson) -> None:
    usual, everybody = lesson.answers.values()
    for made, wanted in ((usual, 15), (everybody, 20)):
        lesson.says(f"{wanted} LU")
        passages = made["figures"]["passages"]
        assert len(passages) == 2
        for passage in passages:
            assert passage["separation_before_lu"] == pytest.approx(-6, abs=1)
            assert passage["separation_after_lu"] == pytest.approx(wanted, abs=1)
            assert passage["words_before"] < 0.45
            assert passage["words_after"] > 0.75
        lesson.says("Two passages of speech", "about -6 LU", "from under 0.45", "over 0.75")
        (voice,) = [note["text"] for note in made["notes"] if "creek ballad" in note["text"]]
        lesson.says("\"a voice is heard in the music 'creek ballad'\"")
        assert voice.startswith("a voice is heard in the music 'creek ballad'")
    assert passages[-1]["music_up_at"] is not None
    assert everybody["figures"]["mix"]["after"]["integrated_lufs"] == pytest.approx(-23, abs=0.1)
    lesson.says("-23 LUFS")


@of("breathing")
def test_a_pause_opens_and_the_music_plays_on(lesson: Lesson) -> None:
    survey, pause, rough = lesson.answers.values()
    interview, natural = seconds(survey, "interview"), seconds(survey, "natural sound")
    lesson.says(f"in the film {interview} of interview and {natural} of natural sound")
    (opened,) = pause["figures"]["pauses"]
    lesson.says(
        f"at {opened['timecode']} a pause of {opened['length']} frames is opened, "
        f"and *{opened['natural_sound']}* fills it"
    )
    (sound,) = edits(pause, "LayNatural")
    assert min(sound["lead"], sound["trail"]) > 0
    after = lesson.survey("breathing-pause.kdenlive")
    assert after["length"] == survey["length"] + opened["length"]
    lesson.says(f"The film is {opened['length']} frames longer")
    (music,), (longer,) = clips(survey, "Music"), clips(after, "Music")
    assert longer["start"] == music["start"]
    assert longer["length"] == music["length"] + opened["length"]
    before, moved = (clips(each, "Interview") for each in (survey, after))
    assert [two["start"] - one["start"] for one, two in zip(before, moved, strict=True)] == [
        100 * (one["start"] >= opened["at"]) for one in before
    ]
    assert rough["figures"]["pauses"] == [opened]
    (heard,) = [row for row in rough["figures"]["passages"] if row["kind"] == "natural sound"]
    assert heard["loudest"] == "music"
    assert heard["separation_after_lu"] > 25
    lesson.says("at least 25 LU under the winch")


@of("narration")
def test_narration_has_pictures_from_end_to_end(lesson: Lesson) -> None:
    survey, cover, slow = lesson.answers.values()
    told, talked = (survey["elements"][each]["on_timeline"] for each in ("narration", "interview"))
    lesson.says(
        f"{told / 25:.1f} s of narration and {talked / 25:.1f} s of interview",
        f"{100 * told / (told + talked):.0f} are narration",
    )
    for made in (cover, slow):
        shots = edits(made, "LayShot")
        shown = {frame for shot in shots for frame in range(shot["at"], shot["at"] + shot["length"])}
        for said in clips(survey, "Narration"):
            assert set(range(said["start"], said["start"] + said["length"])) <= shown
        touching = [
            (one["name"], two["name"])
            for one, two in pairwise(shots)
            if one["at"] + one["length"] == two["at"]
        ]
        assert len(touching) > 2
        assert [pair for pair in touching if pair[0] == pair[1]] == []
    assert len(cover["figures"]["matched"]) >= 5
    lengths = [[shot["length"] for shot in edits(made, "LayShot")] for made in (cover, slow)]
    assert len(lengths[1]) < len(lengths[0])
    assert sum(lengths[1]) / len(lengths[1]) > sum(lengths[0]) / len(lengths[0])


@of("not-enough")
def test_what_was_not_filmed_is_told(lesson: Lesson) -> None:
    survey, rough, sooner = lesson.answers.values()
    cutaways = survey["elements"]["cutaway"]
    lesson.says(
        f"{cutaways['in_bin'] / 25:.1f} s of cutaways in the bin, {cutaways['on_timeline'] / 25:.1f} s in the"
    )
    figures = rough["figures"]
    assert figures["jump_cuts_left"] >= 1
    assert figures["jump_cuts_covered"] + figures["jump_cuts_left"] == figures["jump_cuts"]
    lesson.says(f"{figures['jump_cuts']} jump cuts, of which at least 1 is left")
    assert figures["pick_ups"]
    assert all(place["seconds"] > 0 and place["words"] for place in figures["pick_ups"])
    markers = [edit["text"] for edit in edits(rough, "AddMarker") if "shot missing" in edit["text"]]
    assert len(markers) == len(figures["pick_ups"])
    (place,) = figures["pick_ups"]
    wanted = [(row["subject"], row["sizes"]) for row in place["subjects"]]
    assert wanted == [("lantern", ["CU"]), ("chain", ["CU"]), ("tools", ["WS", "CU"])]
    lesson.says(
        f"At {place['timecode']} that is a close shot of the lantern, one of the chain, "
        "and a wide or a close one of the tools."
    )
    (lantern,) = [row for row in figures["unfilmed"] if row["word"] == "lantern"]
    lesson.says(f'"lantern" is said {lantern["times"]} times')
    lacking = {row["subject"]: row["sizes_lacking"] for row in figures["supply"]}
    assert "CU" in lacking["tools"]
    assert "CU" in lacking["mud banks"]
    lesson.says("`supply` that close shots are lacking of the tools and of the mud banks.")
    assert sooner["figures"]["jump_cuts_left"] <= figures["jump_cuts_left"]


@of("just-looking")
def test_an_observed_scene_is_left_alone(lesson: Lesson) -> None:
    survey, rough = lesson.answers.values()
    lesson.says(f"{seconds(survey, 'natural sound')} of natural sound; no edit in speech")
    assert survey["cuts"] == []
    assert [seconds(survey, each) for each in ("narration", "music")] == ["0.0 s", "0.0 s"]
    figures = rough["figures"]
    assert figures["edits_heard"] == 0
    assert figures["passages"] == []
    assert {edit["edit"] for edit in rough["edits"]} == {"ClearOurs"}
    (note,) = rough["notes"]
    assert "nobody speaks in the film" in note["text"]
    assert not note["needs_editor"]
    loudness = figures["mix"]["after"]["integrated_lufs"]
    assert loudness == figures["mix"]["before"]["integrated_lufs"]
    assert -40 < loudness < -10


@of("honest-cut")
def test_the_program_sees_no_difference_between_the_fair_and_the_unfair_cut(lesson: Lesson) -> None:
    fair, unfair, *told, passed, passed_too = lesson.answers.values()
    (one,), (other,) = fair["cuts"], unfair["cuts"]
    assert one["at"] == other["at"]
    assert one["covered"]
    assert other["covered"]
    lesson.says(
        f"in both one jump at {at(one['at'])}, covered. "
        f"In a {one['removed']} frames are left out there, in b {other['removed']}."
    )
    for made in (passed, passed_too):
        figures = made["figures"]
        assert (figures["jump_cuts"], figures["jump_cuts_covered_by_editor"]) == (1, 1)
        assert (figures["edits_heard"], figures["shots"]) == (0, 0)
    hidden = [lesson.page_data(f"honest-cut-{each}.html")["lists"]["hidden"] for each in "ab"]
    (fairly,), (unfairly,) = ([row["words"] for row in rows] for rows in hidden)
    assert unfairly.startswith(f"{fairly} If the gate was broken")
    assert [len(words.split()) for words in (fairly, unfairly)] == [11, 21]
    lesson.says(f'in a 11 words ("{fairly}"), in b 21, among them "If"')
    listed = [made["removed"] for made in told]
    assert [[row["text"] for row in rows] for rows in listed] == [[fairly], [unfairly]]
    assert [[row["second_look"] for row in rows] for rows in listed] == [[[]], [["negation", "condition"]]]
    assert {"nobody", "If"} <= set(unfairly.split())
    lesson.says('For b it asks for a second look, at a negation ("nobody") and a condition ("If").')
