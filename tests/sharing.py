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
    """The folder as `make` has filled it, in whichever process asked first; the others wait for it.

    `make` is given an empty folder of another name; the result is moved into place when it is whole.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    with FileLock(folder.with_name(f"{folder.name}.lock")):
        if not folder.exists():
            partial = folder.with_name(f"{folder.name}.partial")
            shutil.rmtree(partial, ignore_errors=True)
            partial.mkdir()
            make(partial)
            partial.rename(folder)
    return folder
