"""Benchmarks plan as everybody does."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests import passes


@pytest.fixture(scope="session", autouse=True)
def _nobody_plans_closely() -> Iterator[None]:
    """In place of that of the tests: better plans are looked for."""
    with passes.closely():
        yield
