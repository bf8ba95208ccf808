"""Seasons on a cluster of processes. Run by name only: pytest -s tests/bench/test_cluster.py."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

import psutil
import pytest

import mltassist
from mltassist.season.cluster import on_cluster
from mltassist.season.film import Outcome
from tests.bench.test_season_of_twelve import lines, twelve, waited_for
from tests.cli.conftest import digest
from tests.cli.films import EXAMPLE, short, write
from tests.season.test_season import made, season

__all__ = ["season"]  # the fixture
QUICK = {"no_look": True, "no_mend": True}


@contextmanager
def machines(folder: Path, *begin: list[str]) -> Iterator[str]:
    """A cluster whose workers are processes of their own, each begun by these words; gives its address."""
    from distributed import LocalCluster

    with LocalCluster(n_workers=0, processes=True, dashboard_address=None) as cluster, ExitStack() as left:
        address = cluster.scheduler_address
        for words in begin:
            code = "from distributed.cli.dask_worker import main; main()"
            given = [address, "--nthreads", "1", "--no-dashboard", "--local-directory", str(folder)]
            worker = subprocess.Popen(
                [*words, sys.executable, "-c", code, *given],
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
            left.callback(ended, worker)
        cluster.wait_for_workers(len(begin), timeout=120) if begin else None
        yield address


def spawned(process: psutil.Process | None) -> bool:
    with suppress(psutil.Error):
        return process is not None and "spawn_main" in " ".join(process.cmdline())
    return False


def ended(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    with suppress(subprocess.TimeoutExpired):
        process.wait(10)
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


def test_a_worker_that_is_killed_costs_no_film(tmp_path):
    from distributed import Client, LocalCluster

    for number in range(8):
        folder = tmp_path / "series" / f"ep{number}"
        folder.mkdir(parents=True)
        (folder / "media").symlink_to(EXAMPLE / "media")
        write(short(700), folder, "plain.mlt")
    (tmp_path / "series" / "broken.mlt").write_text("<mlt")
    done = []
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        address = cluster.scheduler_address
        with Client(address) as client, on_cluster(address) as executor:
            victim, _ = client.run(os.getpid).values()

            def on_done(outcome: Outcome) -> None:
                done.append(outcome)
                if sum(not one.problem for one in done) == 1:
                    os.kill(victim, signal.SIGKILL)

            outcomes = mltassist.batch(
                tmp_path / "series", tmp_path / "out", executor=executor, no_look=True, on_done=on_done
            )
        problems = {one.project.parent.name: one.problem for one in outcomes if one.problem}
        assert list(problems) == ["series"]
        assert "not well-formed" in problems["series"]
        assert len(list((tmp_path / "out").rglob("*-rough.mlt"))) == 8
        assert not list((tmp_path / "out").rglob("*.tmp"))
        sys.stdout.write(f"{len(done)} films, process {victim} killed after the first\n")

        # The command does the same from another process; all is finished already.
        command = [sys.executable, "-m", "mltassist", "batch", str(tmp_path / "series"), "--out"]
        began = time.monotonic()
        again = subprocess.run(
            [*command, str(tmp_path / "out"), "--cluster", address, "--no-look"],
            check=False,
            capture_output=True,
            text=True,
        )
        assert again.returncode == 1, again.stderr
        assert again.stdout.count("finished") == 8
        assert time.monotonic() - began < 60


def test_machines_that_see_the_media_under_another_folder(tmp_path):
    """The workers have a view of the disks of their own: what we call HERE is an empty folder to them."""
    if os.geteuid() != 0 or shutil.which("unshare") is None:
        pytest.skip("only root may give a process its own view of the disks")
    ours, theirs = tmp_path / "reels here", tmp_path / "reels there"
    for folder in (ours, theirs):
        folder.mkdir()
    shutil.copytree(EXAMPLE / "media", ours / "media")
    for number in range(2):
        folder = ours / "series" / f"ep{number}"
        folder.mkdir(parents=True)
        path = write(short(700), folder, "plain.mlt")
        (folder / "media").unlink()
        text = path.read_text(encoding="utf-8").replace(">media/", f">{ours}/media/")
        path.write_text(re.sub(r' root="[^"]*"', "", text), encoding="utf-8")
    mounts = 'mount --bind "$0" "$1" && mount -t tmpfs none "$0" && shift && exec "$@"'
    begin = ["unshare", "--mount", "sh", "-c", mounts, str(ours), str(theirs)]
    page, log = ours / "season.html", ours / "log.jsonl"
    with machines(tmp_path, begin) as address:
        given = [str(ours / "series"), "--out", str(ours / "out"), "--cluster", address]
        given += ["--map", f"{ours}={theirs}", "--page", str(page), "--log", str(log), "--limit", "10"]
        command = [sys.executable, "-m", "mltassist", "batch", *given, "--no-look", "--no-mend", "--json"]
        ran, again = (subprocess.run(command, check=False, capture_output=True, text=True) for _ in range(2))
        checking = [*command[:4], str(ours / "out"), "--check", "--cluster", address, "--json", "--no-look"]
        judged = subprocess.run(
            [*checking, "--map", f"{ours}={theirs}"], check=False, capture_output=True, text=True
        )
    rows = json.loads(ran.stdout)["outcomes"]
    assert [row["problem"] for row in rows] == ["", ""]
    assert [row["before"] for row in json.loads(again.stdout)["outcomes"]] == [True, True]
    for row in rows:
        text = Path(row["output"]).read_text(encoding="utf-8")
        assert f">{ours}/media/cutaways/" in text
        assert str(theirs) not in text + json.dumps(row)
        assert Path(row["output"]).with_suffix(".html").stat().st_size > 100_000
        assert str(theirs) not in Path(row["output"]).with_suffix(".html").read_text(encoding="utf-8")
        assert mltassist.open(row["output"]).timeline.of_role("cover") is not None
    films = json.loads(judged.stdout)["films"]
    media = [rule for film in films for rule in film["rules"] if rule["rule"] == "media"]
    assert [rule["kept"] for rule in media] == [True, True]
    assert not list(theirs.iterdir())  # here they are nowhere else
    sys.stdout.write(f"{len(rows)} films by a machine that calls {ours.name!r} {theirs.name!r}\n")


def test_a_season_of_twelve_through_every_fault(season):
    """One hangs, a worker is killed, then Ctrl-C, then it is run again."""
    twelve(season)
    originals = {path: digest(path) for path in season.rglob("film.mlt")}
    log = season.parent / "log.jsonl"
    with machines(season.parent, [], []) as address:

        def run(*more: str) -> subprocess.Popen[str]:
            given = [str(season), "--out", str(season.parent / "out"), "--cluster", address]
            return subprocess.Popen(
                [sys.executable, "-m", "mltassist", "batch", *given, "--no-look", "--json", *more],
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                start_new_session=True,
            )

        def working() -> list[psutil.Process]:
            """The processes that do films: each was begun by a worker, which was begun in its turn."""
            return [
                one
                for one in psutil.Process().children(recursive=True)
                if spawned(one) and spawned(one.parent())
            ]

        running = run("--log", str(log), "--limit", "1")
        waited_for(lambda: any(not row["problem"] for row in lines(log)))
        working()[-1].suspend()  # it hangs
        waited_for(lambda: any("took longer" in str(row["problem"]) for row in lines(log)))
        before_kill = len(lines(log))
        from distributed import Client

        with Client(address) as client:
            victim = next(iter(client.run(os.getpid).values()))
        os.kill(victim, signal.SIGKILL)
        waited_for(lambda: len(lines(log)) > before_kill)
        os.killpg(running.pid, signal.SIGINT)
        stopped = time.monotonic()
        running.communicate(timeout=20)
        took_s = time.monotonic() - stopped
        assert running.returncode == 130
        before = {Path(str(row["project"])).parent.name for row in lines(log) if not row["problem"]}
        failed = [str(row["problem"]) for row in lines(log) if row["problem"]]
        assert len(failed) <= 2  # what a killed worker had is done again
        out, told = run("--limit", "10").communicate(timeout=900)
    rows = {Path(row["project"]).parent.name: row for row in json.loads(out)["outcomes"]}
    assert {name: row["problem"] for name, row in rows.items() if row["problem"]}.keys() == {"broken"}
    assert {name for name, row in rows.items() if row["before"]} >= before
    assert set(made(season)) == set(rows) - {"broken"}
    assert not list(season.parent.rglob("*.tmp"))
    assert "Traceback" not in told
    assert {path: digest(path) for path in originals} == originals
    sys.stdout.write(
        f"{len(before)} of 12 before the stop, which took {took_s:.1f} s, failures: {failed};"
        f" {len(made(season))} in the end\n"
    )
    assert took_s < 2
