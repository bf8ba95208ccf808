"""The page of the whole pass on the example film, made once in a test run, and a browser to open it in."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, sync_playwright

import mltassist
from mltassist.page.gather import Gathered, gather
from mltassist.page.sheet import whole_page
from tests import needs
from tests.page.pages import Opened
from tests.sharing import made_once

KDENLIVE = "saltreed.kdenlive"


@pytest.fixture(scope="session")
def gathered(passed) -> Gathered:
    """What the page of the example's pass shows."""
    done = passed(KDENLIVE)
    return gather(mltassist.open(done.original), done.plan)


@pytest.fixture(scope="session")
def page_file(shared, gathered) -> Path:
    """The page of the example's pass as a file."""

    def make(folder: Path) -> None:
        (folder / "film.html").write_text(whole_page(gathered), encoding="utf-8")
        (folder / "data.json").write_text(json.dumps(gathered.data), encoding="utf-8")

    return made_once(shared / "pages" / KDENLIVE, make) / "film.html"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's browser, without a window."""
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        needs.missing("no chromium is installed, so pages cannot be looked at")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def open_page(browser) -> Iterator[Callable[..., Opened]]:
    """Opens a page; at the end of the test nothing may have gone wrong in it, or left its origin."""
    made: list[Opened] = []

    def opens(address: str, **options: Any) -> Opened:
        made.append(Opened(browser, address, **options))
        return made[-1]

    yield opens
    for one in made:
        one.close()
