"""Lessons as a student has them: a copy of the folder, and the commands of its page run in it."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from mltassist.cli.main import command
from tests.docs.pages import ROOT

EXAMPLES = ROOT / "example_projects"


class Lesson:
    """One lesson in a folder of its own, whose page's commands are run once, in their order."""

    def __init__(self, name: str, within: Path) -> None:
        self.folder = within / name
        shutil.copytree(EXAMPLES / name, self.folder)
        for shared in ("media", "saltreed"):
            (within / shared).symlink_to(EXAMPLES / shared)
        self.page = (self.folder / "README.md").read_text(encoding="utf-8")
        self.words = " ".join(self.page.split())

    @property
    def commands(self) -> list[str]:
        """What the page prints to be typed."""
        blocks = re.findall(r"```sh\n(.*?)```", self.page, re.DOTALL)
        return [line for block in blocks for line in block.splitlines() if line.startswith("mltassist ")]

    @cached_property
    def answers(self) -> Mapping[str, Any]:
        """The JSON that each command answers with, by the command as it is printed."""
        return {line: self.asked(line) for line in self.commands}

    def survey(self, document: str) -> Any:
        """The JSON of the survey of a document in the folder."""
        return self.asked(f"mltassist survey {document}")

    def asked(self, line: str) -> Any:
        """The JSON that a command answers with in the lesson's folder."""
        with _inside(self.folder):
            done = CliRunner().invoke(command, [*shlex.split(line)[1:], "--json"], standalone_mode=False)
        assert done.exception is None, f"{line}: {done.exception!r}"
        return json.loads(done.stdout)

    def page_data(self, file: str) -> Any:
        """What a page that was written into the folder holds."""
        page = (self.folder / file).read_text(encoding="utf-8")
        (held,) = re.findall(r'<script[^>]*type="application/json"[^>]*>(.*?)</script>', page, re.DOTALL)
        return json.loads(held)

    def says(self, *sentences: str) -> None:
        """Assert that the page states every one of these."""
        assert [sentence for sentence in sentences if sentence not in self.words] == []


def seconds(survey: dict[str, Any], element: str) -> str:
    """What of an element is in the film, as the screen tells it."""
    return f"{survey['elements'][element]['on_timeline'] / 25:.1f} s"


def clips(survey: dict[str, Any], track: str, kind: str = "sound") -> list[dict[str, Any]]:
    """What lies on a track of this name, in the survey's words."""
    return [
        item
        for row in survey["tracks"]
        if (row["name"], row["kind"]) == (track, kind)
        for item in row["items"]
        if item["kind"] == "clip"
    ]


@contextmanager
def _inside(folder: Path) -> Iterator[None]:
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)
