"""All media of the examples made anew, and the pass over the whole film.

Run by name only: pytest tests/bench/test_lessons_remade.py. The same versions of the coding libraries write
the same bytes; others need not, so this is no part of the suite.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from mltassist.demofilm.lessons import LESSONS
from mltassist.demofilm.make import demo
from tests.docs.lessonry import EXAMPLES, Lesson


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
    assert figures["jump_cuts"] == len(jumps)
    assert figures["jump_cuts_left"] == 0
    assert figures["jump_cuts_covered"] + figures["jump_cuts_covered_by_editor"] == len(jumps)
    assert [pause["natural_sound"] for pause in figures["pauses"]] == ["wheel splash", "gulls"]
    grown = figures["length"]["after"] - figures["length"]["before"]
    assert grown == sum(pause["length"] for pause in figures["pauses"])
    mill.says(f"{grown} frames longer")
    under = [row["separation_after_lu"] for row in figures["passages"] if row["kind"] == "speech"]
    assert min(value for value in under if value is not None) > 14
