"""Work in compiled code is left where its caller is interrupted; else it gives what it gives."""

from __future__ import annotations

import os
import signal
import time
from threading import Event

import pytest

from mltassist.cutaways.planner.stoppable import stoppable


def test_what_work_gives_or_raises_comes_back():
    assert stoppable(lambda: 7) == 7
    with pytest.raises(ZeroDivisionError):
        stoppable(lambda: 1 // 0)


@pytest.mark.skipif(os.name != "posix", reason="timers of posix")
def test_an_interrupt_does_not_wait_for_the_end_of_the_work():
    ends = Event()
    signal.signal(signal.SIGALRM, signal.default_int_handler)  # as the keys that stop a program
    signal.setitimer(signal.ITIMER_REAL, 0.05)
    began = time.monotonic()
    try:
        with pytest.raises(KeyboardInterrupt):
            stoppable(lambda: ends.wait(20))
        assert time.monotonic() - began < 2
    finally:
        ends.set()
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
