"""A project with what lies beside it is written whole or not at all."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from mltassist.document import save as saving
from mltassist.errors import OutputError
from mltassist.project import open_project
from mltassist.timeline.edits import OpenPause
from tests.hosts.written import write_feature


@pytest.mark.parametrize("failing", ["new.kdenlive", "new.kdenlive.ass"])
def test_a_failed_save_leaves_no_subtitles(tmp_path: Path, monkeypatch, failing: str) -> None:
    project = open_project(write_feature("kdenlive 1.1 subtitles", tmp_path))
    changed = project.with_edits([OpenPause(10, 50, "a test")])
    folder = tmp_path / "out"
    folder.mkdir()
    real = os.replace

    def fail(temporary: Path, target: Path) -> None:
        if target.name == failing:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(temporary, target)

    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "a disk without hard links")

    with monkeypatch.context() as patch:
        patch.setattr(saving.os, "replace", fail)
        patch.setattr(saving.os, "link", no_links)
        with pytest.raises(OutputError, match=f"{failing}: cannot be written .No space left"):
            changed.save(folder / "new.kdenlive")
    assert list(folder.iterdir()) == []
    changed.save(folder / "new.kdenlive")
    assert sorted(path.name for path in folder.iterdir()) == ["new.kdenlive", "new.kdenlive.ass"]
