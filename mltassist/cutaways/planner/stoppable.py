"""Long work of compiled code that an interrupt can leave: it is heard between steps of the interpreter."""

from __future__ import annotations

from collections.abc import Callable
from threading import Thread
from typing import TypeVar

Result = TypeVar("Result")
_STEP_S = 0.2
"""Not every system lets go of a thread that waits without an end."""


def stoppable(work: Callable[[], Result]) -> Result:
    """What `work` gives or raises; it is done in a thread, which an interrupted caller leaves behind."""
    results: list[Result] = []
    failures: list[BaseException] = []

    def run() -> None:
        try:
            results.append(work())
        except BaseException as error:
            failures.append(error)

    thread = Thread(target=run, daemon=True)
    thread.start()
    while thread.is_alive():
        thread.join(_STEP_S)
    if failures:
        raise failures[0]
    return results[0]
