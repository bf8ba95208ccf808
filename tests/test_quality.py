"""The tree is typed, linted and formatted, and its commands are the ones its pages give."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize(
    "command",
    [["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"]],
    ids=["lint", "format", "types"],
)
def test_the_tree_is_clean(command):
    ran = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr


def test_ci_calls_exactly_the_readmes_test_command():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", readme.partition("## Tests")[2], re.DOTALL)
    assert len(blocks) == 1
    assert blocks[0] in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_example_media_stay_small_enough_to_clone():
    files = [path for path in (ROOT / "example_projects").rglob("*") if path.is_file()]
    assert sum(path.stat().st_size for path in files) < 15_000_000


def test_the_package_holds_all_it_needs_to_make_its_demonstration():
    voices = {path.name for path in (ROOT / "mltassist" / "demofilm" / "voices").iterdir()}
    assert {"ines.ogg", "tobias.ogg", "narrator.ogg", "timing.json"} <= voices
