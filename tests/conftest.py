"""What all tests share."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests import needs, referee, sharing


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Slow tests are left out unless CI, -m or the name of their file asks for them."""
    if needs.under_ci() or config.option.markexpr:
        return
    asked = {(config.invocation_params.dir / arg.partition("::")[0]).resolve() for arg in config.args}
    left = [item for item in items if item.get_closest_marker("slow") and item.path.resolve() not in asked]
    config.hook.pytest_deselected(items=left)
    items[:] = [item for item in items if item not in left]


@pytest.fixture(scope="session")
def requires_melt() -> None:
    """Tests that ask the engine are skipped where it is not installed; under CI that is a failure."""
    if not referee.installed():
        needs.missing("the program melt is not installed, so what the engine plays cannot be checked")


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that all processes of this test run see."""
    return sharing.base_folder(tmp_path_factory)


@pytest.fixture(scope="session", autouse=True)
def _no_cache_of_the_users(shared: Path) -> Iterator[None]:
    """Tests keep what they analyse to themselves; those that run side by side share it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MLTASSIST_CACHE", str(shared / "analyses"))
        yield
