"""All media of the lessons made anew, the pass over the whole film, and lessons as the engine plays them.

Run by name only: pytest tests/bench/test_lessons_whole.py. The same versions of the coding libraries write
the same bytes; others need not, so this is no part of the suite.
"""

from __future__ import annotations

from pathlib import Path

import pyloudnorm
import pytest

import mltassist
from mltassist.demofilm.lessons import LESSONS
from mltassist.demofilm.make import demo
from mltassist.demofilm.sources import made_file
from tests import needs, referee
from tests.docs.lessonry import EXAMPLES, Lesson, seconds
from tests.strips import read_strip


def test_every_file_of_the_lessons_is_made_anew_byte_for_byte(tmp_path: Path) -> None:
    for name in LESSONS:
        demo(tmp_path, lesson=name)
    made = [path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file()]
    assert len(made) > 70
    assert [
        str(path) for path in made if (tmp_path / path).read_bytes() != (EXAMPLES / path).read_bytes()
    ] == []


@pytest.fixture(scope="module")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Lesson:
    return Lesson("mill", tmp_path_factory.mktemp("whole"))


def test_the_whole_film_comes_out_as_its_page_says(mill: Lesson) -> None:
    survey, heard, rough = mill.answers.values()
    figures = rough["figures"]
    assert [join for join in heard["joins"] if join["verdict"] == "heard"] == []
    jumps = [cut for cut in survey["cuts"] if cut["kind"] == "jump"]
    turned = [cut for cut in jumps if cut["removed"] < 0]
    mill.says(
        f"{len(survey['cuts'])} edits in speech, {len(jumps)} of them jumps",
        f"at {len(turned)} of them the order was turned round",
    )
    mill.says(
        *(f"{seconds(survey, each)} of {each}" for each in ("interview", "narration", "natural sound")),
        f"the picture jumps at {figures['jump_cuts']} places",
        f"The cutter covered {figures['jump_cuts_covered_by_editor']} of them",
        f"{figures['jump_cuts_left']} left",
    )
    covered = figures["jump_cuts_covered"] + figures["jump_cuts_covered_by_editor"]
    assert covered == figures["jump_cuts"] > len(jumps)
    assert [pause["natural_sound"] for pause in figures["pauses"]] == ["wheel splash", "gulls"]
    grown = figures["length"]["after"] - figures["length"]["before"]
    assert grown == sum(pause["length"] for pause in figures["pauses"])
    mill.says(f"{grown} frames longer")
    under = [row["separation_after_lu"] for row in figures["passages"] if row["kind"] == "speech"]
    assert min(value for value in under if value is not None) > 14


def test_the_words_left_out_are_the_same_to_whoever_listens(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The suite hears no words: there they lie evenly in their lines; here they are found in the sound."""
    needs.recogniser()
    monkeypatch.delenv("MLTASSIST_WORDS")
    lesson = Lesson("honest-cut", tmp_path)
    counts = [
        [len(edit["text"].split()) for edit in lesson.asked(line)["removed"]]
        for line in lesson.commands
        if line.startswith("mltassist words")
    ]
    assert counts == [[11], [21]]
    lesson.says("in a 11 words", "in b 21")


@pytest.mark.usefixtures("requires_melt")
def test_music_lies_as_far_under_the_words_as_is_said(tmp_path: Path) -> None:
    lesson = Lesson("music", tmp_path)
    for made in lesson.answers.values():
        output = lesson.folder / made["output"]
        timeline = mltassist.open(output).timeline
        stems = [
            referee.sound(
                output, only_tracks={track.index for track in timeline.tracks if track.name == name}
            )
            for name in ("Interview", "Music")
        ]
        for row in made["figures"]["passages"]:
            span = slice(row["at"] * 1920, (row["at"] + row["length"]) * 1920)
            # Reference: pyloudnorm, an independent ITU-R BS.1770 meter.
            speech, music = (
                pyloudnorm.Meter(referee.RATE_HZ).integrated_loudness(stem[:, span].T.astype(float))
                for stem in stems
            )
            assert speech - music == pytest.approx(row["separation_after_lu"], abs=0.2)


@pytest.mark.usefixtures("requires_melt")
def test_both_jumps_of_the_shorter_bite_are_hidden_in_what_is_seen(tmp_path: Path) -> None:
    lesson = Lesson("shorter-bite", tmp_path)
    *_, rough = lesson.answers.values()
    face = made_file("../media/interview/ines-1.mp4").number
    for document, hidden in (("shorter-bite.kdenlive", False), (rough["output"], True)):
        cuts = [cut["at"] for cut in lesson.survey(document)["cuts"]]
        assert len(cuts) == 2
        around = [frame for at in cuts for frame in (at - 12, at - 1, at, at + 12)]
        seen = [read_strip(picture) for picture in referee.frames(lesson.folder / document, around)]
        assert None not in seen
        assert [code[0] == face for code in seen if code] == [not hidden] * len(around)
