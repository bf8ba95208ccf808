"""The command that tells what is said."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from mltassist.cli.exits import Exit
from mltassist.cli.main import command
from tests.docs import pages


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("words") / "film"
    shutil.copytree(pages.FILM, folder)
    return folder / "saltreed.kdenlive"


def run(*arguments: object) -> tuple[int, str]:
    done = CliRunner().invoke(command, [*map(str, arguments)], standalone_mode=False)
    if done.exception is not None:
        raise done.exception
    return done.return_value, done.stdout


def test_the_words_are_told_bite_by_bite(film: Path) -> None:
    code, told = run("words", film, "--no-words", "--removed")
    assert code == Exit.DONE
    assert "You put a hand on the millstones" in told
    assert "taken out between bites" in told
    assert "the full interview decides" in told
    assert "longest without one" in told


def test_words_are_saved_beside_the_project_and_never_over_a_file(film: Path) -> None:
    mine = film.with_name("saltreed-words.srt")
    mine.write_text("mine")
    _, told = run("words", film, "--no-words", "--save")
    assert mine.read_text() == "mine"
    written = film.with_name("saltreed-words-2.srt")
    assert f"written: {written}" in told
    assert "Twice a day, the sea comes up the creek at Saltreed." in written.read_text()


@pytest.mark.parametrize("ending", ["csv", "json", "srt"])
def test_the_list_is_written_in_the_form_its_name_tells(film: Path, tmp_path: Path, ending: str) -> None:
    target = tmp_path / f"cuts.{ending}"
    _, printed = run("words", film, "--no-words", "--removed", "--list", target, "--json")
    assert json.loads(printed)["written"] == [str(target)]
    text = target.read_text(encoding="utf-8")
    assert "It is hard to explain" in text
    if ending == "json":
        assert json.loads(text)[0]["order"] == "kept"


def test_a_list_is_refused_before_the_work(film: Path, tmp_path: Path) -> None:
    taken = tmp_path / "cuts.csv"
    taken.write_text("mine")
    with pytest.raises(OSError, match="exists already"):
        run("words", film, "--removed", "--list", taken)
    with pytest.raises(Exception, match="give both"):
        run("words", film, "--list", tmp_path / "new.csv")
    with pytest.raises(Exception, match="give both"):
        run("words", film, "--mark")
    with pytest.raises(Exception, match="give both"):
        run("words", film, "--find", "tide", "-o", tmp_path / "new.kdenlive")
    with pytest.raises(Exception, match="must end in one of"):
        run("words", film, "--removed", "--list", tmp_path / "cuts.doc")
    assert taken.read_text() == "mine"
