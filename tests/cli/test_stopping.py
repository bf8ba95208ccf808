"""An interrupt is raised at once, but within the beginning of a compiled module, which would swallow it."""

from __future__ import annotations

import signal
import sys
from importlib.machinery import ExtensionFileLoader
from threading import Event

import pytest

from mltassist.cli import stopping


class Compiled(ExtensionFileLoader):
    """One whose module is interrupted while it begins."""

    def exec_module(self, module: object) -> None:
        stopping._stop(signal.SIGINT, sys._getframe())


@pytest.fixture
def as_in_a_terminal():
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("as_in_a_terminal")
def test_an_interrupt_waits_for_a_compiled_module_and_for_nothing_else(monkeypatch):
    raised = Event()
    monkeypatch.setattr(stopping._thread, "interrupt_main", raised.set)
    stopping.heed_stops()
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)
    assert not raised.is_set()
    Compiled("x", "x.so").exec_module(None)
    assert raised.wait(10)


@pytest.mark.usefixtures("as_in_a_terminal")
def test_what_somebody_else_does_with_interrupts_stays():
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    stopping.heed_stops()
    assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
