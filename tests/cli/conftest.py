"""Commands run inside the test's process."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from mltassist.cli.main import main
from tests.cli.films import DOCUMENTS, EXAMPLE


class Ran:
    """What a command left behind: its exit status and what it printed."""

    def __init__(self, status: int, out: str, err: str) -> None:
        self.status, self.out, self.err = status, out, err

    def refused(self) -> str:
        """The one line that says why nothing was written."""
        assert self.status == 2, f"exit status {self.status}\n{self.out}{self.err}"
        assert self.out == ""
        lines = self.err.splitlines()
        assert len(lines) == 1, self.err
        assert lines[0].startswith("mltassist: ")
        assert "Traceback" not in self.err
        assert "unexpected" not in self.err
        return lines[0]


Run = Callable[..., Ran]


@pytest.fixture
def run(capsys) -> Run:
    """Run a command; `run("cover", path)` gives what it left behind."""

    def ran(*arguments: object) -> Ran:
        capsys.readouterr()
        with pytest.raises(SystemExit) as left:
            main([str(argument) for argument in arguments])
        told = capsys.readouterr()
        assert isinstance(left.value.code, int)
        return Ran(int(left.value.code), told.out, told.err)

    return ran


@pytest.fixture
def folder(tmp_path) -> Path:
    """A folder with the example film's three documents and, as a link, its media."""
    (tmp_path / "media").symlink_to(EXAMPLE / "media")
    for name in DOCUMENTS:
        shutil.copy(EXAMPLE / name, tmp_path)
    return tmp_path


@pytest.fixture
def untouched(folder):
    """Afterwards every original is byte for byte what it was."""
    yield
    for name in DOCUMENTS:
        assert digest(folder / name) == digest(EXAMPLE / name)


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
