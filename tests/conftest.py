"""What all tests share."""

from __future__ import annotations

import os

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
