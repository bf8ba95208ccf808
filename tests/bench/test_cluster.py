"""A season on a cluster of processes, one killed. Run by name only: pytest tests/bench/test_cluster.py."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import mltassist
from mltassist.season.cluster import on_cluster
from mltassist.season.film import Outcome
from tests.cli.films import EXAMPLE, short, write


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
