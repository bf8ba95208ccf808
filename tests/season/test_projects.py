"""Which projects are found under what names, and where their results go."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest

from mltassist.season.projects import Found, called, find_projects, targets


@pytest.fixture
def tree(tmp_path, monkeypatch) -> Path:
    """Two episodes with films of one name, and what is none of a season's projects."""
    monkeypatch.chdir(tmp_path)
    for name in (
        *("series/ep1/film.kdenlive", "series/ep1/film-rough.kdenlive", "series/ep1/notes.txt"),
        *("series/ep2/film.kdenlive", "series/ep2/night-rough.mlt", "series/.backup/film.kdenlive"),
        *("out/ep1/film-rough.kdenlive", "other/ep1/film.kdenlive"),
    ):
        Path(name).parent.mkdir(parents=True, exist_ok=True)
        Path(name).touch()
    return tmp_path


def placed(*named: str) -> dict[str, str]:
    found = find_projects(map(Path, named), Path("out"))
    made = targets(found, Path("out"))
    return {one.project.as_posix(): target.as_posix() for one, target in zip(found, made, strict=True)}


SERIES = {
    "series/ep1/film.kdenlive": "out/ep1/film-rough.kdenlive",
    "series/ep2/film.kdenlive": "out/ep2/film-rough.kdenlive",
    "series/ep2/night-rough.mlt": "out/ep2/night-rough-rough.mlt",  # no original: the editor's own name
}


@pytest.mark.parametrize("named", ["series", "series/", "./series", "series/**/*.*", "series/ep*"])
@pytest.mark.usefixtures("tree")
def test_a_folder_s_tree_is_kept(named):
    assert placed(named) == SERIES


@pytest.mark.usefixtures("tree")
def test_the_folder_of_results_is_no_part_of_the_season():
    assert "out/ep1/film-rough.kdenlive" not in placed(".")
    assert len(placed(".")) == 4


@pytest.mark.usefixtures("tree")
def test_of_several_folders_each_keeps_its_name():
    found = placed("series", "other")
    assert found["series/ep1/film.kdenlive"] == "out/series/ep1/film-rough.kdenlive"
    assert found["other/ep1/film.kdenlive"] == "out/other/ep1/film-rough.kdenlive"


@pytest.mark.usefixtures("tree")
def test_files_lie_side_by_side_and_each_is_done_once():
    one, other = "series/ep1/film.kdenlive", "series/ep2/film.kdenlive"
    assert placed(one, other, "series/ep2/../ep1/film.kdenlive") == {
        "series/ep1/film.kdenlive": "out/film-rough.kdenlive",
        "series/ep2/film.kdenlive": "out/film-rough-2.kdenlive",
    }


@pytest.mark.usefixtures("tree")
def test_no_two_films_are_called_alike():
    assert called(find_projects([Path("series")])) == ["ep1/film", "ep2/film", "ep2/night-rough"]
    Path("series/ep1/film.mlt").touch()
    # Where one has to show its ending, all do: a third film of the name seemed to be of no kind.
    endings = ["ep1/film.kdenlive", "ep1/film.mlt", "ep2/film.kdenlive", "ep2/night-rough.mlt"]
    assert called(find_projects([Path("series")])) == endings
    found = find_projects(
        [Path("series/ep1"), Path("series/ep2/film.kdenlive"), Path("other/ep1/film.kdenlive")]
    )
    assert called(found) == [
        "series/ep1/film.kdenlive",
        "film.mlt",
        "ep2/film.kdenlive",
        "other/ep1/film.kdenlive",
    ]


@pytest.mark.usefixtures("tree")
def test_what_is_not_there_is_kept_for_whoever_opens_it():
    assert list(placed("none.mlt", "no*.mlt")) == ["none.mlt", "no*.mlt"]
    Path("a[1].mlt").touch()
    assert placed("a[1].mlt") == {"a[1].mlt": "out/a[1]-rough.mlt"}


@pytest.mark.parametrize(
    ("one", "other"),
    [("Film.mlt", "film.mlt"), ("STRASSE.mlt", "straße.mlt"), ("cr\u00e9ek.mlt", "cre\u0301ek.mlt")],
)
def test_names_that_some_systems_take_for_one_give_two_results(one: str, other: str) -> None:
    # As a disk that tells no letter case, or no composed accent, apart would file them.
    found = [Found(Path(name), Path(folder, name)) for folder in ("Day 1", "day 1") for name in (one, other)]
    made = targets(found, Path("out"))
    filed = {unicodedata.normalize("NFD", str(path)).upper().lower() for path in made}
    assert len(filed) == len(made) == 4
    assert made[0] == Path("out", "Day 1", one.replace(".mlt", "-rough.mlt"))
