"""Ctrl-C while libraries are loaded: compiled ones swallow an interrupt, or take it for a broken install."""

from __future__ import annotations

import _thread
import signal
import threading
from importlib.machinery import ExtensionFileLoader
from types import FrameType

AGAIN_S = 0.02
"""Compiled modules begin in far less than a second."""


def heed_stops() -> None:
    """From now on an interrupt that comes while a compiled module begins is raised when that is over."""
    at_front = threading.current_thread() is threading.main_thread()
    if at_front and signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # else it is another's
        signal.signal(signal.SIGINT, _stop)


def _stop(_: int, frame: FrameType | None) -> None:
    if not _compiled_begins(frame):
        raise KeyboardInterrupt
    again = threading.Timer(AGAIN_S, _thread.interrupt_main)
    again.daemon = True
    again.start()


def _compiled_begins(frame: FrameType | None) -> bool:
    """True within the first run of a compiled module, and of all that it imports in its turn."""
    while frame is not None:
        if frame.f_code.co_name in ("create_module", "exec_module") and isinstance(
            frame.f_locals.get("self"), ExtensionFileLoader
        ):
            return True
        frame = frame.f_back
    return False
