"""The whole pass on the example film, made once in a test run for all that look at it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import partial
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from mltassist.choices.decisions import Decision
from mltassist.cli.main import main
from mltassist.cutaways.planner import best, bounds
from mltassist.frames import Rate
from mltassist.plans import Note, Plan
from mltassist.timeline.saved import read_parts
from tests.cli.films import EXAMPLE
from tests.sharing import made_once

PAUSE_S = 5
_PLANNER, _WORK = "mltassist.cutaways.planner", best.WORK
PLACE = "let the wheel be heard"
CLOSELY = ("saltreed.kdenlive",)
"""Of one layout the plan is looked for as closely as outside of tests; the others get the first good one."""


@contextmanager
def soon() -> Iterator[None]:
    """Within this, films are covered by the first good plan that is found."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(f"{_PLANNER}.closer.LARGEST", 0)
        patch.setattr(f"{_PLANNER}.best.WORK", best.PATIENCE)
        yield


@contextmanager
def closely() -> Iterator[None]:
    """Within this, better plans are looked for, as they are outside of tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(f"{_PLANNER}.closer.LARGEST", bounds.LARGEST)
        patch.setattr(f"{_PLANNER}.best.WORK", _WORK)
        yield


@dataclass(frozen=True, slots=True)
class Pass:
    """A document of the example film, the one that the pass has made of it, and what was told.

    status: what the command ended with; told: its JSON, the plan with its figures; err: its other words.
    """

    original: Path
    output: Path
    status: int
    told: dict[str, Any]
    err: str

    @property
    def plan(self) -> Plan:
        """The plan, as it was written down."""
        edits, found = read_parts(json.dumps(self.told), "told", {"notes": Note, "decisions": Decision})
        rate = Rate(*self.told["rate"])
        return Plan("rough", Path(self.told["project"]), rate, edits, found["notes"], found["figures"])


def example_pass(shared: Path, name: str) -> Pass:
    """The pass on the example's document of this name, with a pause at PLACE of PAUSE_S seconds."""
    folder = made_once(shared / "passes" / name, partial(_make, name))
    said = json.loads((folder / "said.json").read_text(encoding="utf-8"))
    return Pass(
        folder / name, folder / f"covered-{name}", said["status"], json.loads(said["out"]), said["err"]
    )


def _make(name: str, folder: Path) -> None:
    (folder / "media").symlink_to(EXAMPLE / "media")
    shutil.copy(EXAMPLE / name, folder)
    arguments = ["--pause", f"{PLACE}={PAUSE_S}", "-o", str(folder / f"covered-{name}"), "--json"]
    out, err = StringIO(), StringIO()
    with (
        closely() if name in CLOSELY else soon(),
        redirect_stdout(out),
        redirect_stderr(err),
        pytest.raises(SystemExit) as left,
    ):
        main(["rough", str(folder / name), *arguments])
    said = {"status": left.value.code, "out": out.getvalue(), "err": err.getvalue()}
    (folder / "said.json").write_text(json.dumps(said), encoding="utf-8")
