"""The questions for students are answered by the commands' JSON as the page says, and a class marked."""

from __future__ import annotations

import json
import re
import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import pytest

from tests.docs.lessonry import EXAMPLES, Lesson
from tests.docs.pages import ROOT

PAGE = (ROOT / "docs" / "lessons.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (\d+) \| (.+?) \| `((?:survey|listen|words) .+?)` \| (\S+) \|$", PAGE, re.MULTILINE)
ANSWERS = {int(number): int(answer) for number, _, _, answer in ROWS}


def _script() -> ModuleType:
    spec = spec_from_file_location("mark", EXAMPLES / "mark.py")
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules["mark"] = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


mark = _script()


def test_the_page_asks_what_the_script_marks_for_every_small_lesson() -> None:
    told = [(int(number), text, command) for number, text, command, _ in ROWS]
    assert told == [(number, each.text, each.command) for number, each in mark.QUESTIONS.items()]
    folders = {each.folder for each in mark.QUESTIONS.values()}
    assert folders == {
        "shorter-bite",
        "narration",
        "breathing",
        "music",
        "not-enough",
        "just-looking",
        "honest-cut",
    }


@pytest.mark.parametrize("folder", dict.fromkeys(each.folder for each in mark.QUESTIONS.values()))
def test_the_answers_are_those_of_the_json(folder: str, tmp_path: Path) -> None:
    lesson, answers = Lesson(folder, tmp_path), {}
    for number, each in mark.QUESTIONS.items():
        if each.folder == folder:
            found = answers.setdefault(each.command, lesson.asked(f"mltassist {each.command}"))
            assert each.find(found) == ANSWERS[number], each.text


@pytest.fixture
def known(monkeypatch: pytest.MonkeyPatch) -> None:
    """The script as it is where every command has been asked already."""
    answers = {text: int(answer) for _, text, _, answer in ROWS}
    monkeypatch.setattr(mark.Question, "answer", lambda question: answers[question.text])


@pytest.mark.usefixtures("known")
def test_a_class_is_marked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "class.csv"
    # As a spreadsheet writes it: a byte order mark, spaces, a remark that is no question.
    file.write_text("\ufeffname, 1,2,13,remark\nAda,2,255, 207 ,\nBela,2,254,,late\n", encoding="utf-8")
    assert mark.main([str(file)]) == 1
    assert capsys.readouterr().out == " 3 of 3  Ada\n 1 of 3  Bela   look again: 2, 13\n"
    assert mark.main([str(file), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)[1] == {"name": "Bela", "right": 1, "of": 3, "again": [2, 13]}


@pytest.mark.parametrize("text", ["", "name\nAda\n", "1,2\n2,255\n", "name,15\nAda,1\n"])
def test_what_is_no_list_of_answers_is_refused_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    (tmp_path / "class.csv").write_text(text, encoding="utf-8")
    assert mark.main([str(tmp_path / "class.csv")]) == 2
    assert mark.main([str(tmp_path / "none.csv")]) == 2
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 2
    assert "name the columns" in told[0]
    assert "cannot be read" in told[1]
