"""A desk plans anew what was chosen or saved, keeps the choices, and writes what the engine then shows."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest

import mltassist
from mltassist.choices.reading import load_choices
from mltassist.demofilm.scenario import CLIP_NUMBERS
from mltassist.demofilm.strip import read_strip
from mltassist.page.desk import Desk
from tests import referee
from tests.cli.films import short, write


def until(true: Callable[[], object]) -> None:
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.mark.usefixtures("requires_melt")
def test_a_choice_is_planned_written_and_seen_and_outlives_a_save_in_the_editor(tmp_path):
    path = write(short(800), tmp_path, "host.kdenlive")
    desk = Desk(path)
    desk.begin()
    try:
        first = desk.wait(60)
        assert first is not None, desk.problem
        row = next(row for row in first.gathered.data["covers"] if row["others"])
        other = row["others"][0]
        chosen = {"name": row["name_of"], "choice": "other clip", "clip": other["clip_name"]}
        desk.choose({"put": {"shots": [{**chosen, "source_in": other["source_in"]}]}})
        until(lambda: desk.shown.serial == 2 and not desk.state()["planning"])
        desk.write()
        until(lambda: desk.writes == 1 or desk.problem)
        written = tmp_path / desk.written
        (code,) = map(read_strip, referee.frames(written, [row["at"] + row["length"] // 2]))
        assert f"media/cutaways/{other['clip_name']}" in {f for f, n in CLIP_NUMBERS.items() if n == code[0]}

        # The editor saves it with a bite less at its end: all is planned anew, and what was chosen stays.
        write(short(700), tmp_path, "host.kdenlive")
        until(lambda: desk.shown.serial == 3 and not desk.state()["planning"])
        now = {row["name_of"]: row for row in desk.data()["covers"]}
        assert now[row["name_of"]]["clip_name"] == other["clip_name"]
        assert len(load_choices(desk.choices_file).shots) == 1
        desk.write()
        until(lambda: desk.writes == 2 or desk.problem)
        assert desk.written == written.name  # nobody had changed it
        assert mltassist.open(written).timeline.length <= 700
    finally:
        desk.end()


def test_what_cannot_be_planned_is_told_and_the_rest_stays(tmp_path):
    path = tmp_path / "film.kdenlive"
    path.write_text("<mlt", encoding="utf-8")
    desk = Desk(path)
    desk.begin()
    try:
        assert desk.wait(20) is None
        assert "film.kdenlive" in desk.problem
        assert desk.data() is None
    finally:
        desk.end()
