"""The questions for students are answered by the commands' JSON as the page says."""

from __future__ import annotations

import re

import pytest

from tests.docs.lessonry import Lesson
from tests.docs.pages import ROOT

PAGE = (ROOT / "docs" / "lessons.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (.+?) \| `((?:survey|listen) .+?)` \| `(.+?)` \| (\S+) \|$", PAGE, re.MULTILINE)
FOLDERS = {"honest-cut-b": "honest-cut"}


def test_there_are_questions_for_every_small_lesson() -> None:
    assert len(ROWS) == PAGE.count("| `survey ") + PAGE.count("| `listen ") >= 12
    asked = {command.split()[1].removesuffix(".mlt") for _, command, *_ in ROWS}
    small = {"shorter-bite", "narration", "breathing", "music", "not-enough", "just-looking", "honest-cut-b"}
    assert asked == small


@pytest.mark.parametrize("document", dict.fromkeys(command.split()[1] for _, command, *_ in ROWS))
def test_the_answers_are_those_of_the_json(document: str, tmp_path) -> None:
    name = document.removesuffix(".mlt")
    lesson = Lesson(FOLDERS.get(name, name), tmp_path)
    for question, command, expression, answer in ROWS:
        if command.split()[1] == document:
            found = lesson.asked(f"mltassist {command}")
            assert str(eval(expression, {"found": found})) == answer, question  # noqa: S307  (our own page)
