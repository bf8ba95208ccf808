"""What all tests share."""

from __future__ import annotations

import os
import sys

from mltassist.season.threads import ONE_THREAD

os.environ.setdefault(*ONE_THREAD)  # before numpy is loaded
# Processes that tests begin would each compile all of the package, a third of what they take to start.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

import gc
from collections.abc import Callable, Generator, Iterator
from functools import partial
from pathlib import Path

import pytest

from tests import needs, passes, referee, sharing

HERE = Path(__file__).parent


LONG = (
    "test_rough_rendered.py",
    "cli/test_bad_input.py",
    "page/test_page_file.py",
    "page/test_gather.py",
    "hosts/test_generations_played.py",
    "docs/test_lessons.py",
    "rushes/test_nameless_rendered.py",
    "docs/test_examples.py",
    "music/test_dissolves.py",
    "cutaways/test_task.py",
    "media/sound/test_mix_played.py",
    "page/test_desk.py",
    "music/test_beneath.py",
    "media/picture/test_real_pictures.py",
    "cli/test_batch.py",
    "hosts/test_generations_edited_played.py",
    "cutaways/test_stable.py",
    "cutaways/test_beside.py",
    "cli/test_making.py",
    "hosts/test_host_played.py",
    "hosts/test_features_edited.py",
    "music/test_mixing.py",
    "pauses/test_natural.py",
    "test_no_black.py",
    "season/test_season.py",
    "hosts/test_plain_both.py",
    "hosts/test_titles_on_top.py",
    "docs/test_formats.py",
    "hosts/test_keys_from_the_end.py",
    "joins/test_levels.py",
    "hosts/test_generations_edited.py",
    "test_seen_rendered.py",
    "season/test_batch_kills.py",
    "hosts/test_any_moves.py",
    "cutaways/test_plan.py",
    "joins/test_offsets.py",
    "cli/test_saying.py",
    "joins/test_hear.py",
    "joins/test_move.py",
    "rushes/test_guesses.py",
    "cli/test_trust.py",
    "media/picture/test_looks.py",
    "joins/test_measures.py",
    "cutaways/test_plan_exact.py",
)
"""Files that take five seconds and more. Begun first, so that no process is left alone with one at the end.

The engine plays one film at a time. In this order, on two processes, a file that asks it much stands beside
one that does not; and while the first looks at all of the example film the second does not.
"""


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """What is there once all tests are known stays: nobody looks through it for what could be thrown away."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest files come first."""
    place = {HERE / name: number for number, name in enumerate(LONG)}
    items.sort(key=lambda item: place.get(item.path, len(LONG)))


@pytest.fixture(scope="session")
def requires_melt() -> None:
    """Tests that ask the engine are skipped where it is not installed; under CI that is a failure."""
    if not referee.installed():
        needs.missing("the program melt is not installed, so what the engine plays cannot be checked")


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that all processes of this test run see."""
    return sharing.base_folder(tmp_path_factory)


@pytest.fixture(scope="session")
def passed(shared: Path) -> Callable[[str], passes.Pass]:
    """Gives the whole pass on a document of the example film, made once in a test run."""
    return partial(passes.example_pass, shared)


@pytest.fixture(scope="session", autouse=True)
def _no_cache_of_the_users(shared: Path) -> Iterator[None]:
    """Tests keep what they analyse to themselves; those that run side by side share it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MLTASSIST_CACHE", str(shared / "analyses"))
        yield


@pytest.fixture(scope="session", autouse=True)
def _no_test_waits_for_the_disk() -> Iterator[None]:
    """Of thousands of documents none is needed after a loss of power; tests of saving do wait."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda _: None)
        yield


@pytest.fixture(scope="session", autouse=True)
def _nobody_listens_for_words() -> Iterator[None]:
    """Films are covered without what the recogniser hears, which takes its time; tests of it ask for it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MLTASSIST_WORDS", "off")
        yield


@pytest.fixture(scope="session", autouse=True)
def _nobody_plans_closely() -> Iterator[None]:
    """Cover is the first good plan: to look for better ones takes seconds. Tests of plans ask for them."""
    with passes.soon():
        yield


@pytest.fixture(scope="module")
def closely() -> Iterator[None]:
    """In the tests of this file better plans are looked for, as they are outside of tests."""
    with passes.closely():
        yield


@pytest.fixture
def listening(monkeypatch: pytest.MonkeyPatch) -> None:
    """Words are heard in this test; skipped where the extra is not installed, and a failure under CI."""
    needs.recogniser()
    monkeypatch.delenv("MLTASSIST_WORDS")
