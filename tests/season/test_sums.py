"""Lists summed over a season, and its page."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pytest

import mltassist
from mltassist.errors import OutputError
from mltassist.recipe.rules import parse_recipe
from mltassist.season.film import Call, Outcome
from mltassist.season.overview import Line, save_page, season_page
from mltassist.season.record import NAME
from mltassist.season.sums import Episode, hidden_of_all, shots_of_all, spare_of_all
from tests.cli.films import EXAMPLE, short, write


def pick_up(subject: str, seconds: float, sizes: list[str]) -> dict[str, object]:
    subjects = [{"subject": subject, "sizes": sizes}] if subject else []
    return {"seconds": seconds, "timecode": "00:00:01:00", "words": "so", "subjects": subjects}


ONE = Episode(
    "ep1/film",
    {
        "shots": [{"source": "a", "name": "wheel", "times": 2, "seconds": 7.0}],
        "hidden": [{"speaker": "ines", "edits": 3, "removed_s": 9.0, "turned": 1}],
        "spare": [{"source": "z", "name": "sunset <i>", "seconds": 20.0}],
    },
    [pick_up("gulls", 3.0, ["CU"]), pick_up("", 2.0, [])],
)
TWO = Episode(
    "ep2/film",
    {
        "shots": [
            {"source": "a", "name": "wheel", "times": 1, "seconds": 3.5},
            {"source": "b", "name": "gulls", "times": 5, "seconds": 20.0},
            {"source": "z", "name": "sunset <i>", "times": 1, "seconds": 4.0},
        ],
        "hidden": [{"speaker": "ines", "edits": 1, "removed_s": 1.5, "turned": 0}],
        "spare": [{"source": "z", "name": "sunset <i>", "seconds": 20.0}],
    },
    [pick_up("gulls", 4.0, ["WS", "CU"])],
)


def test_lists_are_summed_over_the_films():
    first, second, third = shots_of_all([ONE, TWO])
    assert (first["name"], first["times"], first["seconds"]) == ("wheel", 3, 10.5)
    assert first["films"] == {"ep1/film": 2, "ep2/film": 1}
    assert (second["name"], third["name"]) == ("gulls", "sunset <i>")
    (spare,) = spare_of_all([ONE, TWO])
    assert (spare["seconds"], spare["films"]) == (20.0, {"ep2/film": 1})  # by hand, all the same
    (ines,) = hidden_of_all([ONE, TWO])
    assert (ines["edits"], ines["removed_s"], ines["turned"]) == (4, 10.5, 1)


class Reader(HTMLParser):
    """Tags, links and text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.said = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("href", "src")]

    def handle_data(self, data: str) -> None:
        self.said += data


def line(film: Episode, folder: Path, *, page: bool = False, problem: str = "") -> Line:
    made = folder / "out é" / f"{film.name}.mlt"
    own, output = made.with_suffix(".html") if page else None, None if problem else made
    return Line(film, Path("x.mlt"), output, own, problem, 2, {"jump_cuts": 14, "shots": 9})


def test_the_page_holds_all_and_names_obey_nothing(tmp_path):
    hostile = Episode("</style><script>alert(1)</script>\x1b[31m\u202e", {})
    lines = [
        line(ONE, tmp_path, page=True),
        line(TWO, tmp_path),
        line(hostile, tmp_path, problem="it\x9bfailed"),
    ]
    text = season_page(lines, tmp_path / "season.html")
    page = Reader(text)
    assert "script" not in page.tags
    assert "link" not in page.tags  # nothing from elsewhere
    assert not {"\x1b", "\x9b", "\u202e"} & set(text)
    assert [unquote(link) for link in page.links] == [
        "out é/ep1/film.html",
        "out é/ep2/film.mlt",
        "season-to-film.html",
    ]
    for told in (
        "A season of 3 films",
        "wheel",
        "sunset <i>",
        "ines",
        "gulls",
        "editorial code",
        "it\ufffdfailed",
    ):
        assert told in page.said
    assert page.tags.count("table") == 5
    assert '<td class="number">' not in text.split("failed</span>")[0].rpartition("<tr>")[2]
    assert "ep1/<wbr>" in text  # a line of a name ends behind a folder
    assert page.tags.count("h1") == 1


def test_a_page_of_ours_is_replaced_and_no_other_file(tmp_path):
    target = tmp_path / "season.html"
    save_page([line(ONE, tmp_path)], target)
    save_page([line(ONE, tmp_path), line(TWO, tmp_path)], target)
    assert "A season of 2 films" in target.read_text(encoding="utf-8")
    target.write_text("<html>mine</html>")
    with pytest.raises(OutputError, match="exists already"):
        save_page([line(ONE, tmp_path)], target)
    assert target.read_text() == "<html>mine</html>"


def test_a_season_of_two_makes_its_page_and_leaves_spare_shots(tmp_path):
    for name in ("ep1", "ep2"):
        (tmp_path / "series" / name).mkdir(parents=True)
        (tmp_path / "series" / name / "media").symlink_to(EXAMPLE / "media")
        write(short(700), tmp_path / "series" / name, "plain.mlt")
    elsewhere = '[[pauses]]\nat = "the sluice"\nlength_s = 2'  # a place of other films of the house
    recipe = parse_recipe('[season]\nspare = ["wheel-ws*", "gulls*"]\n' + elsewhere)
    options = {"recipe": recipe, "no_look": True, "no_mend": True}
    page = {"page": tmp_path / "season.html", "plans": tmp_path / "plans"}
    with ThreadPoolExecutor(1) as pool:
        first = mltassist.batch(tmp_path / "series", tmp_path / "out", executor=pool, **options)
        state = first[0].output.stat().st_mtime_ns
        (tmp_path / "out" / NAME).unlink()  # killed before it came to note what it had written
        made = mltassist.batch(tmp_path / "series", tmp_path / "out", executor=pool, **page, **options)
        before = (tmp_path / "season.html").stat().st_mtime_ns
        again = mltassist.batch(tmp_path / "series", tmp_path / "out", executor=pool, **page, **options)
        first[1].output.write_text("mine")
        (tmp_path / "out" / NAME).unlink()
        other = mltassist.batch(tmp_path / "series", tmp_path / "out", executor=pool, **options)
    assert [one.problem for one in (*first, *made)] == ["", "", "", ""]
    assert [one.before for one in (*first, *made, *other)] == [False, False, True, True, True, False]
    assert (
        first[0].output.stat().st_mtime_ns == state
    )  # an earlier film gets its page, and is not written again
    assert "exists already" in other[1].problem
    missing = "no pause is opened at 'the sluice': no marker says 'the sluice'"
    assert [missing in {note.text for note in one.notes} for one in (*first, *again)] == [True] * 4
    plan = json.loads((tmp_path / "plans" / "ep1" / "plain-rough.json").read_text(encoding="utf-8"))
    assert plan["recipe"]["season"]["spare"] == ["wheel-ws*", "gulls*"]
    shown = {Path(row["source"]).stem for row in made[0].sums["shots"]}
    assert shown
    assert not any(name.startswith(("wheel-ws", "gulls")) for name in shown)
    assert {Path(row["source"]).stem for row in made[0].sums["spare"]} >= {"wheel-ws", "gulls-ws"}
    assert [row["speaker"] for row in made[0].sums["hidden"]]
    assert all(one.before for one in again)
    assert again[0].sums == made[0].sums
    assert (tmp_path / "season.html").stat().st_mtime_ns > before
    page = Reader((tmp_path / "season.html").read_text(encoding="utf-8"))
    assert page.links == ["out/ep1/plain-rough.html", "out/ep2/plain-rough.html", "season-to-film.html"]
    assert "To film on the next" in (tmp_path / "season-to-film.html").read_text(encoding="utf-8")
    assert all((tmp_path / link).stat().st_size > 100_000 for link in page.links[:2])


def test_films_that_differ_in_their_ending_alone_have_pages_of_their_own(tmp_path, monkeypatch):
    for name in ("film.kdenlive", "film.mlt"):
        (tmp_path / name).write_text("<mlt/>")
    calls: list[Call] = []

    def each(work, given, **options):
        calls.extend(given)
        return enumerate(Outcome(call.project) for call in given)

    monkeypatch.setattr("mltassist.batches.each_of", each)
    mltassist.batch(tmp_path, tmp_path / "out", page=tmp_path / "season.html")
    assert [call.page_to.name for call in calls] == ["film-rough.html", "film-rough-2.html"]
