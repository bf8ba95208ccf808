"""Work in a process apart: ended when it takes too long or too much, gone with its caller."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from mltassist.media.apart import Apart, Trouble

ROOT = Path(__file__).parents[2]
WORK = "tests.media.endless:work"


@pytest.fixture
def apart():
    made = Apart(WORK, limit_s=1, most_mib=200)
    yield made
    made.close()


def test_one_process_serves_many_requests(apart):
    answers = [apart.ask(f"say {number}") for number in range(200)]
    assert [said for _, said in answers] == [str(number) for number in range(200)]
    assert {process for process, _ in answers} == {answers[0][0]}
    assert answers[0][0] != os.getpid()
    apart.close()
    assert not psutil.pid_exists(answers[0][0])


@pytest.mark.parametrize(
    ("request_", "why"),
    [("never", "does not end within 1 s"), ("eat 20000", "more than 200 MiB"), ("die", "fails on them")],
)
def test_what_has_no_end_is_ended_and_the_next_is_answered(apart, request_, why):
    first, _ = apart.ask("say a")
    before = time.monotonic()
    answer = apart.ask(request_)
    assert isinstance(answer, Trouble)
    assert why in answer.why
    assert time.monotonic() - before < 3
    assert not psutil.pid_exists(first)
    second, said = apart.ask("say é\udc80")  # as a name of a file may be
    assert (second != first, said) == (True, "é\udc80")


def test_what_the_work_raises_is_told_and_costs_no_process(apart):
    first, _ = apart.ask("say a")
    assert apart.ask("fail twice") == Trouble("twice")
    assert apart.ask("say b") == [first, "b"]


def test_one_that_cannot_be_started_is_trouble(monkeypatch):
    monkeypatch.setattr(sys, "executable", str(ROOT / "no-such-program"))
    assert "cannot be started" in Apart(WORK, limit_s=1, most_mib=200).ask("say a").why


@pytest.mark.skipif(os.name != "posix", reason="signals of posix")
def test_it_goes_when_its_caller_was_killed():
    code = (
        "from mltassist.media.apart import Apart\n"
        f"apart = Apart({WORK!r}, limit_s=1, most_mib=200)\n"
        "print(apart.ask('say a')[0], flush=True)\n"
        "apart.ask('never')\n"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, cwd=ROOT) as caller:
        assert caller.stdout is not None
        process = psutil.Process(int(caller.stdout.readline()))
        caller.kill()
    process.wait(4)
    assert not process.is_running()
