"""Workers that die, hang, fail or are stopped."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from mltassist.season.crew import Lost, in_processes

posix = pytest.mark.skipif(os.name != "posix", reason="signals of posix")


def job(piece: tuple[str, str]) -> str:
    """What a piece tells: the name of a thing to do, and where to note that it began."""
    what, where = piece
    if where:
        Path(where, f"{what}-{os.getpid()}").touch()
    if what == "die":
        os.kill(os.getpid(), 9)
    if what == "hang":
        time.sleep(60)
    if what == "eat":
        held = bytearray(2**30)  # and kept: it is looked at every quarter of a second
        time.sleep(60)
        return str(len(held))
    if what == "fail":
        raise KeyError("a\nb")
    return what


def results(*pieces: str, jobs: int = 2, **limits: Any) -> list[object]:
    found = dict(in_processes(job, [(piece, "") for piece in pieces], jobs=jobs, **limits))
    return [found[number] for number in range(len(pieces))]


@posix
def test_a_killed_worker_costs_its_own_work_alone():
    found = results("a", "die", "b", "die", "c", "fail", jobs=2)
    died = Lost("its worker process died; run it alone to see why")
    assert found[:5] == ["a", died, "b", died, "c"]
    assert isinstance(found[5], Lost)
    assert found[5].why == "unexpected KeyError: 'a\\nb'; run it alone with --debug"


def test_what_hangs_is_ended_and_the_others_go_on():
    began = time.monotonic()
    hung, *others = results("hang", "a", "b", "c", jobs=2, limit_s=9)
    assert hung == Lost("it took longer than 0.15 minutes and was ended")
    assert others == ["a", "b", "c"]
    assert time.monotonic() - began < 50


def test_what_eats_memory_is_ended_and_the_others_go_on():
    began = time.monotonic()
    large, *others = results("eat", "a", "b", jobs=2, most_mib=600)
    assert large == Lost("it took more than 600 MiB of memory and was ended")
    assert others == ["a", "b"]
    assert time.monotonic() - began < 50  # else it ended by itself


def test_there_are_no_more_workers_than_pieces():
    began = time.monotonic()
    assert results("a", jobs=1_000_000) == ["a"]
    assert time.monotonic() - began < 50


@posix
def test_stopping_ends_all_workers_at_once(tmp_path):
    code = f"""
import sys
sys.path.insert(0, {str(Path(__file__).parents[2])!r})
from tests.season.test_crew import job
from mltassist.season.crew import in_processes
if __name__ == "__main__":
    try:
        list(in_processes(job, [("hang", {str(tmp_path)!r})] * 4, jobs=2))
    except KeyboardInterrupt:
        sys.exit(130)
"""
    script = tmp_path / "script.py"
    script.write_text(code)
    running = subprocess.Popen([sys.executable, script], start_new_session=True, stderr=subprocess.PIPE)
    pids = workers_of(tmp_path, 2)
    os.killpg(running.pid, signal.SIGINT)  # as the keys do: everyone in the group hears it
    stopped = time.monotonic()
    _, told = running.communicate(timeout=10)
    assert time.monotonic() - stopped < 2
    assert running.returncode == 130
    assert told == b""
    assert not any(alive(pid) for pid in pids)


@posix
def test_workers_go_when_their_caller_is_killed(tmp_path):
    code = f"""
import sys
sys.path.insert(0, {str(Path(__file__).parents[2])!r})
from tests.season.test_crew import job
from mltassist.season.crew import in_processes
if __name__ == "__main__":
    list(in_processes(job, [("hang", {str(tmp_path)!r})] * 4, jobs=1))
"""
    script = tmp_path / "script.py"
    script.write_text(code)
    running = subprocess.Popen([sys.executable, script])
    (pid,) = workers_of(tmp_path, 1)
    running.kill()
    running.wait()
    until = time.monotonic() + 10
    while alive(pid) and time.monotonic() < until:
        time.sleep(0.05)
    assert not alive(pid)


def workers_of(folder: Path, count: int) -> list[int]:
    until = time.monotonic() + 60
    while len(found := list(folder.glob("hang-*"))) < count:
        assert time.monotonic() < until, "no worker began"
        time.sleep(0.05)
    return [int(path.name.partition("-")[2]) for path in found]


def alive(pid: int) -> bool:
    """Whether a process runs; one that has ended and was not waited for does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
