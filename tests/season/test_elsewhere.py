"""Work by machines that see the files under other folders: where they are named there is nothing here."""

from __future__ import annotations

import json
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from mltassist.files import here, lying_elsewhere, named
from mltassist.recipe.rules import Recipe
from mltassist.season.elsewhere import Elsewhere
from mltassist.season.film import Asked, Call, one
from tests.cli.films import EXAMPLE, short, write

THERE = Path("/mnt/reels of Saltreed")
"""No such folder is on this machine."""


@pytest.fixture
def film(tmp_path) -> Path:
    """A film whose media are named by the other machine's absolute paths, but for one, named from it."""
    (tmp_path / "series").mkdir()
    (tmp_path / "media").symlink_to(EXAMPLE / "media")
    path = write(short(700), tmp_path / "series", "plain.mlt")
    text = path.read_text(encoding="utf-8").replace(">media/", f">{THERE}/media/")
    text = text.replace(f"{THERE}/media/narration", "../media/narration")
    path.write_text(re.sub(r' root="[^"]*"', "", text), encoding="utf-8")
    (tmp_path / "series" / "media").unlink()
    return path


def test_every_file_is_found_and_named_as_on_the_machine_that_asks(film, tmp_path):
    original = film.read_bytes()
    asked = Asked(no_look=True, no_mend=True)
    target, plan_to = THERE / "out" / "a" / "plain-rough.mlt", THERE / "plans" / "plain.json"
    call = Call(THERE / "series" / "plain.mlt", target, plan_to, Recipe(), False, asked)
    missing = Call(THERE / "series" / "none.mlt", target, None, Recipe(), False, asked)
    with ThreadPoolExecutor(1) as pool:
        crew = Elsewhere(pool, [("/mnt", "/nowhere"), (str(THERE), str(tmp_path))])
        made, none = (crew.submit(one, each).result() for each in (call, missing))
        again = crew.submit(one, call).result()
    assert made.problem == ""
    assert (made.project, made.output) == (call.project, target)
    assert none.problem == f"{missing.project}: no such file; check the name and the folder"
    assert film.read_bytes() == original
    text = (tmp_path / "out" / "a" / "plain-rough.mlt").read_text(encoding="utf-8")
    assert f">{THERE}/media/cutaways/" in text
    assert ">../../media/narration/" in text
    plan = json.loads((tmp_path / "plans" / "plain.json").read_text(encoding="utf-8"))
    assert plan["project"] == str(call.project)
    shots = [row for row in plan["edits"] if row["edit"] == "LayShot"]
    assert shots
    assert all(row["source"].startswith(f"{THERE}/media/") for row in shots)
    assert again.before
    assert str(tmp_path) not in repr((made, none, again)) + text + json.dumps(plan)


def test_the_longest_folder_that_fits_counts():
    maps = [("/mnt/a", "/media/a/b"), ("/mnt/a/new", "/n"), ("C:/Reels", "/reels"), ("/", "/all")]
    with lying_elsewhere(maps):
        lies = ("/mnt/a/x", "/mnt/a/new/y", "/mnt/ab/x", "C:\\Reels\\é.mov", "C:/Reels", "rel/x")
        expected = ("/media/a/b/x", "/n/y", "/all/mnt/ab/x", "/reels/é.mov", "/reels", "rel/x")
        assert [str(here(Path(name))) for name in lies] == list(expected)
        assert named("/n/y: no; see /media/a/b/z.") == "/mnt/a/new/y: no; see /mnt/a/z."
        assert named("/nn/y, /x/n/y and /media/a/bc") == "/nn/y, /x/n/y and /media/a/bc"
    assert here(Path("/mnt/a/x")) == Path("/mnt/a/x")
    assert named("/n/y") == "/n/y"
