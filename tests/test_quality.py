"""The commands that check the tree are the ones its pages give, and the tree stays small."""

from __future__ import annotations

import re
from pathlib import Path

from mltassist.demofilm.cards import CARDS
from mltassist.demofilm.script import INES, NARRATOR, TOBIAS
from tests.conftest import LONG

ROOT = Path(__file__).parents[1]


def test_ci_calls_exactly_the_readmes_test_command():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", readme.partition("## Tests")[2], re.DOTALL)
    assert len(blocks) == 1
    assert blocks[0] in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for check in ("ruff check .", "ruff format --check .", "mypy", "python -m pytest -n 2"):
        assert f".test-venv/bin/{check}" in blocks[0]


def test_example_media_stay_small_enough_to_clone():
    files = [path for path in (ROOT / "example_projects").rglob("*") if path.is_file()]
    assert sum(path.stat().st_size for path in files) < 15_000_000


def test_the_package_holds_all_it_needs_to_make_its_demonstration():
    voices = {path.name for path in (ROOT / "mltassist" / "demofilm" / "voices").iterdir()}
    assert {"timing.json", *(f"{talk.speaker}.ogg" for talk in (INES, TOBIAS, NARRATOR, *CARDS))} == voices


def test_the_files_that_are_begun_first_are_there():
    assert [name for name in LONG if not (ROOT / "tests" / name).is_file()] == []
