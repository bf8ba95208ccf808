"""Seasons and long films by the command `batch`, from nothing: time, work and memory of its processes."""

from __future__ import annotations

import os
import shutil
import sys
from fractions import Fraction
from pathlib import Path
from statistics import median

from tests.bench.figures import Figure, Found, Growth
from tests.bench.test_long_film_speed import bites
from tests.bench.watching import Watched, watched
from tests.cli.films import EXAMPLE, short, write

FILMS, TIMES = 24, 3
FASTER = 1.85
MOST_MIB = 1229
"""1.2 GiB."""
CUTS_A_MINUTE = Fraction(400, 60)
BITE = (25, 425)
"""Shortest and longest bite, so that a minute has so many cuts."""
say = sys.stdout.write


def side_by_side(folder: Path) -> Found:
    """A season of films with media of their own, each time with an empty cache.

    On one worker and one core, and on two.
    """
    series = folder / "series"
    for number in range(FILMS):
        own = series / f"ep{number:02}"
        own.mkdir(parents=True)
        shutil.copytree(EXAMPLE / "media", own / "media", copy_function=os.link)
        write(short(700), own, "plain.mlt")
    by_clock, by_work, twice_done, most_mib = [], [], 0, 0.0
    for number in range(TIMES):
        one, two = (_batch(folder, series, jobs, number) for jobs in (1, 2))
        told = f"one core {one.wall_s:.1f} s ({one.cpu_s:.1f} of it), two {two.wall_s:.1f} ({two.cpu_s:.1f})"
        say(f"  {told}\n")
        sys.stdout.flush()
        by_clock.append(one.wall_s / two.wall_s)
        by_work.append(one.critical_s / two.critical_s)
        most_mib = max(most_mib, *one.most_mib.values(), *two.most_mib.values())
        for jobs in (1, 2):
            twice_done += _written_twice(folder / f"cache-of-{jobs}-{number}")
    unit, asked = "x as fast as on one", f">= {FASTER}"
    name = f"{FILMS} films on two workers and two cores"
    return Found(
        [
            Figure(name, by_clock, unit, asked, median(by_clock) >= FASTER),
            Figure(f"{name}, by the work of the busier", by_work, unit, asked, median(by_work) >= FASTER),
            Figure("analyses made twice", [twice_done], "of all", "0", twice_done == 0),
            Figure(
                "memory of a worker of the season", [most_mib], "MiB", f"<= {MOST_MIB}", most_mib <= MOST_MIB
            ),
        ]
    )


def _batch(folder: Path, series: Path, jobs: int, number: int) -> Watched:
    out, cache = folder / f"out-{jobs}-{number}", folder / f"cache-of-{jobs}-{number}"
    command = [sys.executable, "-m", "mltassist", "batch", str(series), "--out", str(out), "--no-look"]
    own = {**os.environ, "MLTASSIST_CACHE": str(cache)}
    found = watched([*command, "--jobs", str(jobs)], own, folder, cores=jobs)
    assert len(list(out.rglob("*-rough.mlt"))) == FILMS
    shutil.rmtree(out)
    return found


def _written_twice(cache: Path) -> int:
    """How many more results were written into a folder of analyses than there are: it counts every write."""
    counted = (cache / "written.analysis-count").read_bytes()
    seen = int.from_bytes(counted[8:16])  # what it held when last looked through; since then each write
    return seen + len(counted) // 8 - 2 - len(list(cache.glob("*.analysis")))


def a_film(folder: Path, minutes: int) -> Found:
    """What a worker takes for a film of 400 jump cuts an hour, from nothing: work and memory."""
    path = write(bites(round(minutes * CUTS_A_MINUTE), BITE), folder, "host.kdenlive")
    command = [sys.executable, "-m", "mltassist", "batch", str(path), "--out", str(folder / "out")]
    own = {**os.environ, "MLTASSIST_CACHE": str(folder / "cache")}
    found = watched([*command, "--no-look", "--jobs", "1"], own, folder)
    assert list((folder / "out").glob("*-rough.kdenlive"))
    most = max(found.most_mib.values())
    within, asked = (most <= MOST_MIB, f"<= {MOST_MIB}") if minutes <= 60 else (None, "nothing")
    return Found(
        [Figure(f"memory of a worker, film of {minutes} minutes", [most], "MiB", asked, within)],
        [
            Growth("whole pass", "s", {minutes: [found.cpu_s]}, power=1.2),
            Growth("whole pass", "MiB", {minutes: [most]}),
        ],
    )
