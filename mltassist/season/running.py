"""Work on many projects side by side, in processes of ours or by any executor that is handed over."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future, as_completed
from concurrent.futures.process import BrokenProcessPool
from typing import Any

from mltassist.season.crew import DIED, Lost, in_processes, unforeseen


def workers(jobs: int | None, platform: str = sys.platform) -> int:
    """How many worker processes there are to be: Windows cannot wait for more than 61."""
    wanted = jobs or os.cpu_count() or 1
    return min(61, wanted) if platform == "win32" else wanted


def each_of(
    work: Callable[[Any], Any],
    pieces: Sequence[Any],
    *,
    jobs: int | None = None,
    limit_minutes: float | None = None,
    most_mib: int | None = None,
    executor: Executor | None = None,
    on_end: Callable[[int], None] | None = None,
) -> Iterator[tuple[int, Any]]:
    """Do `work` on each of `pieces`; gives (number, result or Lost) as they end.

    executor: does it in place of processes of ours; it knows no limit of time or memory, and `on_end` is not
    told of its processes.
    """
    if executor is None:
        limit_s = None if limit_minutes is None else limit_minutes * 60
        yield from in_processes(
            work, pieces, jobs=workers(jobs), limit_s=limit_s, most_mib=most_mib, on_end=on_end
        )
        return
    futures: dict[Future[Any], int] = {
        executor.submit(work, piece): number for number, piece in enumerate(pieces)
    }
    try:
        for future in as_completed(futures):
            try:
                yield futures[future], future.result()
            except CancelledError:
                yield futures[future], Lost("it was cancelled")
            except Exception as error:  # a fault of ours in one project must not cost the others
                yield futures[future], _lost_to(error)
    finally:
        for future in futures:
            future.cancel()


def _lost_to(error: Exception) -> Lost:
    # The name of what a cluster says when it has lost a worker too often over one film.
    if isinstance(error, BrokenProcessPool) or type(error).__name__ == "KilledWorker":
        return DIED
    return unforeseen(error)
