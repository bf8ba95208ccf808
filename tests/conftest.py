"""What all tests share."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from tests import referee


@pytest.fixture(scope="session")
def requires_melt() -> None:
    """Tests that ask the engine are skipped where it is not installed; under CI that is a failure."""
    if not referee.installed():
        reason = "the program melt is not installed, so what the engine plays cannot be checked"
        if os.environ.get("CI", "").lower() == "true":
            pytest.fail(reason)
        pytest.skip(reason)


@pytest.fixture(scope="session", autouse=True)
def _no_cache_of_the_users(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Tests keep what they analyse to themselves; those that run side by side share it."""
    folder = tmp_path_factory.getbasetemp()
    folder = folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MLTASSIST_CACHE", str(folder / "analyses"))
        yield
