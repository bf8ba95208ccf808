"""A season of five hundred: what the scheduling costs a project, and what grows with their number.

Run by name only: pytest -s tests/bench/test_season_scale.py. Jobs cost next to nothing; all else is real: the
crew of processes, a cluster of them, what is found, noted and read again, and the page of the season. Figures
are seconds of this process, in which the scheduler of the cluster runs too.
"""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import mltassist
from mltassist.recipe.rules import Recipe
from mltassist.season.film import Call, Outcome
from mltassist.season.overview import Line, season_page
from mltassist.season.record import NAME, append_line, read_finished
from mltassist.season.running import each_of
from mltassist.season.sums import Episode

FEW, MANY, MORE = 50, 500, 2000
GROWTH = 1.5
"""Times by which a project may cost more in a season of so many: noise, and what a list costs."""
FIGURES = {f"figure {number}": list(range(500)) for number in range(20)}
"""About as much as the figures of a real plan: fifty thousand characters."""


def nothing(call: Call) -> Outcome:
    return Outcome(call.project, call.target, "", 1, (), {"jump_cuts": 3})


def calls(count: int) -> list[Call]:
    names = [Path(f"/series/episode {number}/film.mlt") for number in range(count)]
    return [Call(name, name.with_name("film-rough.mlt"), None, Recipe(), False) for name in names]


def each_costs(run: Callable[[list[Call]], Iterator[object]], count: int) -> float:
    """Milliseconds of this process for each project, from the first result on: workers have begun by then.

    The least of three: a busy machine adds to each.
    """
    found = []
    for _ in range(3):
        results = run(calls(count))
        next(results)
        gc.collect()
        began = time.process_time()
        assert sum(1 for _ in results) == count - 1
        found.append((time.process_time() - began) * 1000 / (count - 1))
    return min(found)


def say(what: str, costs: dict[int, float], unit: str = "ms a project") -> None:
    told = ", ".join(f"{count}: {cost:.2f}" for count, cost in costs.items())
    sys.stdout.write(f"{what}: {told} {unit}\n")


def test_the_crew_costs_each_project_the_same():
    costs = {
        count: each_costs(lambda given: each_of(nothing, given, jobs=2), count) for count in (MANY, MORE)
    }
    say("crew of two processes", costs)
    assert costs[MANY] < 10
    assert costs[MORE] <= GROWTH * costs[MANY]


def test_the_cluster_costs_each_project_the_same():
    from distributed import LocalCluster

    from mltassist.season.cluster import on_cluster

    cluster = LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None)
    with cluster, on_cluster(cluster.scheduler_address) as executor:
        run = lambda given: each_of(nothing, given, executor=executor)  # noqa: E731
        each_costs(run, FEW)
        costs = {count: each_costs(run, count) for count in (MANY, MORE)}
    say("cluster of two workers, with its scheduler", costs)
    assert costs[MANY] < 50
    assert costs[MORE] <= GROWTH * costs[MANY]


def test_finding_and_refusing_grows_with_the_season(tmp_path):
    costs = {}
    for count in (FEW, MANY):
        for number in range(count):
            folder = tmp_path / str(count) / f"ep{number}"
            folder.mkdir(parents=True)
            (folder / "film.mlt").write_text("<mlt")
        began = time.process_time()
        found = mltassist.batch(tmp_path / str(count), tmp_path / f"out-{count}", jobs=2)
        costs[count] = (time.process_time() - began) * 1000 / count
        assert len(found) == count
        assert all("not well-formed" in one.problem for one in found)
    say("the whole of batch on broken documents", costs)
    assert costs[MANY] <= GROWTH * costs[FEW]


def test_the_record_and_the_page_grow_with_the_season(tmp_path):
    noted, read, shown, size = {}, {}, {}, {}
    shots = [{"source": f"/m/{n}.mp4", "name": f"{n}", "times": 2, "seconds": 3.0} for n in range(40)]
    hidden = [{"speaker": "Ines", "edits": 3, "turned": 0, "removed_s": 9.5}]
    for count in (FEW, MANY):
        folder = tmp_path / str(count)
        folder.mkdir()
        began = time.process_time()
        for call in calls(count):
            outcome = Outcome(call.project, call.target, "", 1, (), FIGURES)
            append_line(
                folder / NAME, {"place": str(call.target), "contents": "x", "outcome": outcome.as_dict()}
            )
        noted[count] = (time.process_time() - began) * 1000 / count
        began = time.process_time()
        assert len(read_finished(folder)) == count
        read[count] = (time.process_time() - began) * 1000 / count
        lines = [
            Line(Episode(str(n), {"shots": shots, "hidden": hidden}), Path("x"), Path("x"), None, "", 0, {})
            for n in range(count)
        ]
        began = time.process_time()
        page = season_page(lines, folder / "season.html")
        shown[count], size[count] = (time.process_time() - began) * 1000 / count, len(page) / 1000 / count
    say("noting what is finished", noted)
    say("reading that again", read)
    say("the page of the season", shown)
    say("its size", size, "kB a project")
    for cost in (noted, read, shown, size):
        assert cost[MANY] <= GROWTH * cost[FEW]
