"""A page of five hundred edits: how large it is, how long it takes to make, and how soon it answers.

    python -m pytest tests/bench/test_page_size.py -s

The example film fifteen times over, with 250 shots; pictures are drawn, so a camera's count twice.
"""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

from mltassist.demofilm.scenario import film
from mltassist.page.gather import gather
from mltassist.page.sheet import whole_page
from mltassist.plans import Plan
from mltassist.project import open_project
from mltassist.timeline.edits import ClearOurs, LayShot
from tests.cli.films import write
from tests.page.conftest import browser  # noqa: F401 - a fixture

TIMES = 15
SHOTS = 250


def long_film(folder: Path) -> Path:
    made = film()
    length = max(spot.start + spot.length for lane in made.lanes for spot in lane.placements)
    lanes = tuple(
        replace(
            lane,
            placements=tuple(
                replace(spot, start=spot.start + again * length)
                for again in range(TIMES)
                for spot in lane.placements
            ),
        )
        for lane in made.lanes
    )
    return write(replace(made, lanes=lanes, marks=()), folder, "plain.mlt")


def test_five_hundred_edits(tmp_path, browser):  # noqa: F811
    project = open_project(long_film(tmp_path))
    bins = [clip for clip in project.timeline.bin if "cutaways" in clip.source.key]
    apart = project.timeline.length // SHOTS
    shots = [
        LayShot(
            number * apart,
            90,
            bins[number % len(bins)].source.key,
            13 + number % 60,
            "covers a jump cut",
            name=bins[number % len(bins)].name,
            decision=f"shot {number} ines.mp4 > {number + 90} ines.mp4",
        )
        for number in range(SHOTS)
    ]
    others = []
    for number, shot in enumerate(shots):
        two = [bins[(number + by) % len(bins)] for by in (7, 15)]
        rows = [{"name": c.name, "source": c.source.key, "source_in": 20 + number % 50} for c in two]
        others.append({"at": shot.at, "clips": rows})
    figures = {"others": others, "edits_in_speech": 250}
    edits = (ClearOurs("cover", "replaced"), *shots)
    plan = Plan("rough", project.path, project.timeline.rate, edits, (), figures)
    began = time.process_time()
    gathered = gather(project, plan)
    made = time.process_time()
    media = dict(gathered.gallery.every())
    held = time.process_time()
    target = tmp_path / "page.html"
    target.write_text(whole_page(gathered), encoding="utf-8")
    sizes = {
        kind: sum(len(m.content) for m in media.values() if m.kind == kind)
        for kind in ("image/jpeg", "audio/webm")
    }
    many = len(gathered.data["joins"]) + len(gathered.data["covers"])
    size = target.stat().st_size
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    start = time.monotonic()
    page.goto(target.as_uri(), wait_until="commit")
    page.wait_for_selector(".card")
    page.keyboard.press("n")
    page.wait_for_selector(".card[aria-current]")
    soon = time.monotonic() - start
    page.wait_for_load_state("load")
    loaded = time.monotonic() - start
    start = time.monotonic()
    for _ in range(20):
        page.keyboard.press("n")
    each = (time.monotonic() - start) / 20
    page.close()
    parts = f"{sizes['image/jpeg'] / 1e6:.1f} pictures, {sizes['audio/webm'] / 1e6:.1f} sounds"
    made_in = f"gathered {made - began:.1f} s, made {held - made:.1f} s CPU"
    answers = f"answers after {soon:.2f} s, whole after {loaded:.2f} s, a step {each * 1000:.0f} ms"
    print(f"\n{many} edits: {size / 1e6:.1f} MB ({parts}), {made_in}; {answers}")  # noqa: T201
    assert many >= 490
    assert size + sizes["image/jpeg"] * 4 / 3 <= 40e6
    assert soon <= 2
