"""A season of twelve through every fault. By name only: pytest tests/bench/test_season_of_twelve.py."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

from tests.cli.conftest import digest
from tests.season.test_season import batch, made, season, workers_of

__all__ = ["season"]  # the fixture
LIMIT_MIN = 1
"""Far more than a film takes, also where other work goes on."""


def waited_for(what: Callable[[], bool], seconds: float = 240) -> None:
    until = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < until
        time.sleep(0.05)


def lines(log: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in log.read_text().splitlines()] if log.exists() else []


def twelve(season: Path) -> None:
    """The season of five, one broken, one hostile and one without a file of its own, made one of twelve."""
    for number in range(3, 10):
        shutil.copytree(season / "ep1", season / f"ep{number}", symlinks=True)
    assert len(list(season.rglob("film.mlt"))) == 12


def test_all_that_can_be_is_there_once(season):
    twelve(season)
    originals = {path: digest(path) for path in season.rglob("film.mlt")}
    log = season.parent / "log.jsonl"
    running = batch(season, "--jobs", "2", "--json", "--log", str(log), "--limit", str(LIMIT_MIN))
    waited_for(lambda: any(not row["problem"] for row in lines(log)))
    hanging, killed = workers_of(running)
    os.kill(hanging, signal.SIGSTOP)  # it hangs, and cannot even be asked to end
    os.kill(killed, signal.SIGKILL)
    waited_for(lambda: any("process died" in str(row["problem"]) for row in lines(log)))
    waited_for(lambda: len(workers_of(running)) == 2)
    (waiting,) = set(workers_of(running)) - {hanging}
    os.kill(waiting, signal.SIGSTOP)  # or all would be done until then
    waited_for(lambda: any("took longer" in str(row["problem"]) for row in lines(log)))
    os.kill(waiting, signal.SIGCONT)
    waited_for(lambda: not Path(f"/proc/{hanging}").exists(), 10)
    os.killpg(running.pid, signal.SIGINT)
    stopped = time.monotonic()
    running.communicate(timeout=20)
    assert time.monotonic() - stopped < 2
    assert running.returncode == 130
    before, failed = made(season), [str(row["problem"]) for row in lines(log) if row["problem"]]
    assert len(failed) <= 3  # the broken one, the one that hung, the one whose worker was killed
    assert not list(season.parent.rglob("*.tmp"))

    out, told = batch(season, "--jobs", "2", "--json").communicate(timeout=600)
    rows = {Path(row["project"]).parent.name: row for row in json.loads(out)["outcomes"]}
    after = made(season)
    assert [name for name, row in rows.items() if row["problem"]] == ["broken"]
    assert {name for name, row in rows.items() if row["before"]} == set(before)
    assert set(after) == set(rows) - {"broken"}
    assert before.items() <= after.items()
    assert "Traceback" not in told
    assert {path: digest(path) for path in originals} == originals
    sys.stdout.write(f"{len(before)} of 12 before the stop, failures: {failed}; {len(after)} in the end\n")
