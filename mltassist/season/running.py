"""Work on many projects side by side, in processes of ours or by any executor that is handed over."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future, as_completed
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from typing import Any

from mltassist.files import Maps, lying_elsewhere, maps_in_force
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
    costs: Sequence[float] | None = None,
    on_end: Callable[[int], None] | None = None,
) -> Iterator[tuple[int, Any]]:
    """Do `work` on each of `pieces`; gives (number, result or Lost) as they end.

    executor: does it in place of processes of ours; `on_end` is not told of its processes. Where there is a
    limit of time or memory, each of its workers does every piece in a process of its own. costs: what each
    piece is likely to cost, in any unit; the dearest are begun first, so that none is left for the end.
    """
    limit_s = None if limit_minutes is None else limit_minutes * 60
    order = list(range(len(pieces)))
    if costs is not None:
        order.sort(key=costs.__getitem__, reverse=True)
    if executor is None:
        asked = [pieces[number] for number in order]
        for place, result in in_processes(
            work, asked, jobs=workers(jobs), limit_s=limit_s, most_mib=most_mib, on_end=on_end
        ):
            yield order[place], result
        return
    if limit_s is not None or most_mib is not None:
        work = partial(_bounded, work, limit_s, most_mib)
    futures: dict[Future[Any], int] = {executor.submit(work, pieces[number]): number for number in order}
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


def _bounded(
    work: Callable[[Any], Any], limit_s: float | None, most_mib: int | None, piece: object
) -> object:
    """Work done in a process of its own, which is ended when it takes too long or too much memory."""
    there = partial(_elsewhere, maps_in_force(), work)
    ((_, result),) = in_processes(there, [piece], jobs=1, limit_s=limit_s, most_mib=most_mib)
    return result


def _elsewhere(maps: Maps, work: Callable[[Any], Any], piece: object) -> object:
    with lying_elsewhere(maps):
        return work(piece)


def _lost_to(error: Exception) -> Lost:
    # The name of what a cluster says when it has lost a worker too often over one film.
    if isinstance(error, BrokenProcessPool) or type(error).__name__ == "KilledWorker":
        return DIED
    return unforeseen(error)
