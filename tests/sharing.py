"""Work that several tests look at, done once for all processes of a test run."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from filelock import FileLock


def base_folder(factory: pytest.TempPathFactory) -> Path:
    """The folder of the whole test run: the same for all of its processes."""
    folder = factory.getbasetemp()
    return folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder


def made_once(folder: Path, make: Callable[[Path], object]) -> Path:
    """The folder as `make` has filled it, in whichever process asked first; the others wait for it."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    whole = folder.with_name(f"{folder.name}.whole")
    with FileLock(folder.with_name(f"{folder.name}.lock")):
        if not whole.exists():
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            make(folder)
            whole.touch()
    return folder
