"""Decided in the browser, planned anew, written, and seen by the engine; kept when the editor saves."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Thread

import pytest

import mltassist
from mltassist.choices.reading import load_choices
from mltassist.demofilm.scenario import CLIP_NUMBERS
from mltassist.page.desk import Desk
from mltassist.page.review import Serving
from mltassist.page.sheet import page_html
from mltassist.timeline.edits import LayShot
from tests import referee
from tests.cli.films import short, write
from tests.page.pages import Opened
from tests.strips import read_strip

PLANNED_MS = 120_000


def until(true: Callable[[], object]) -> None:
    end = time.monotonic() + PLANNED_MS / 1000
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.fixture
def serving(tmp_path) -> Iterator[Serving]:
    made = Serving(Desk(write(short(800), tmp_path, "host.kdenlive")))
    thread = Thread(target=made.run, args=(300,))
    thread.start()
    made.desk.wait(PLANNED_MS / 1000)
    yield made
    made.left.set()
    thread.join()


def first_with_others(data: dict) -> dict:
    return next(row for row in data["covers"] if row["others"])


def take_other(opened: Opened, row: dict) -> None:
    """Go to this shot by keyboard, and take the first other clip."""
    for _ in range(100):
        opened.press("n")
        there = opened.page.evaluate("() => document.activeElement.querySelector('.time').textContent")
        if there == row["time"] and opened.current()["id"].startswith("shot"):
            break
    opened.press("1")
    assert opened.current()["choice"] == "other clip"


@pytest.mark.usefixtures("requires_melt")
def test_a_choice_is_saved_planned_written_and_seen_and_outlives_a_save_in_the_editor(serving, open_page):
    desk, folder = serving.desk, serving.desk.path.parent
    row = first_with_others(desk.data())
    other = row["others"][0]
    opened = open_page(serving.address)
    page = opened.page
    take_other(opened, row)
    page.wait_for_function("() => document.getElementById('count').textContent.includes('saved')")
    (saved,) = load_choices(desk.choices_file).shots
    assert (saved.name, saved.clip) == (row["name_of"], other["clip_name"])
    page.wait_for_function("() => document.documentElement.dataset.serial === '2'", timeout=PLANNED_MS)
    assert opened.current()["choice"] == "other clip"  # the page stayed where one was
    assert opened.violations() == []
    second = open_page(serving.address)
    second.page.wait_for_selector(".card[data-choice='other clip']", state="attached")
    opened.press("w")
    page.wait_for_function("() => document.getElementById('count').textContent.includes('written')")
    written = folder / desk.written
    (code,) = map(read_strip, referee.frames(written, [row["at"] + row["length"] // 2]))
    assert code is not None
    assert CLIP_NUMBERS[f"media/cutaways/{other['clip_name']}"] == code[0]

    # The editor saves it with less of its end: all is planned anew, and what was chosen stays.
    write(short(700), folder, "host.kdenlive")
    page.wait_for_function("() => document.documentElement.dataset.serial === '3'", timeout=PLANNED_MS)
    now = {one["name_of"]: one for one in desk.data()["covers"]}
    assert now[row["name_of"]]["clip_name"] == other["clip_name"]
    desk.write()
    until(lambda: desk.writes == 2 or desk.problem)
    assert desk.written == written.name  # nobody had changed it
    assert mltassist.open(written).timeline.length <= 700

    exported(open_page, desk, folder, other["clip_name"])


def exported(open_page, desk: Desk, folder: Path, clip: str) -> None:
    """A page that is a file: what comes out of it is obeyed by the next run."""
    data = {key: value for key, value in desk.data().items() if key not in ("served", "choices")}
    row = next(row for row in data["covers"] if row["others"] and row["clip_name"] != clip)
    target = folder / "page.html"
    target.write_text(page_html(data), encoding="utf-8")
    opened = open_page(target.as_uri())
    take_other(opened, row)
    with opened.page.expect_download() as coming:
        opened.press("s")
    choices = load_choices(Path(coming.value.path()))
    plan = mltassist.cover(mltassist.open(desk.path), choices=choices)
    laid = {edit.decision: edit for edit in plan.edits if isinstance(edit, LayShot)}
    assert laid[row["name_of"]].source.endswith(row["others"][0]["clip_name"])


def test_what_cannot_be_planned_is_told_until_it_can(tmp_path, open_page):
    path = tmp_path / "film.kdenlive"
    path.write_text("<mlt", encoding="utf-8")
    serving = Serving(Desk(path))
    thread = Thread(target=serving.run, args=(300,))
    thread.start()
    try:
        desk = serving.desk
        until(lambda: desk.problem)
        assert desk.data() is None
        opened = open_page(serving.address)
        assert "film.kdenlive" in opened.text("main")
        write(short(300), tmp_path, "host.kdenlive").replace(path)
        opened.page.wait_for_selector(".card", state="attached", timeout=PLANNED_MS)
        assert desk.problem == ""
        opened.close()  # before who serves it ends: a page asks on
    finally:
        serving.left.set()
        thread.join()
