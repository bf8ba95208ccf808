"""Worker processes that may die, hang or be stopped: each costs the work it had, and nothing else."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from typing import Any

import psutil

from mltassist.season.threads import ONE_THREAD

GRACE_S = 1.0
"""Time that a worker has to tidy up when it is stopped: what is being written is taken away in far less."""
_LOOK_S = 0.25
"""Time between two looks at the memory of workers, where it is limited."""


@dataclass(frozen=True, slots=True)
class Lost:
    """A piece of work that gave no result. `why`: in words, for a person."""

    why: str


DIED = Lost("its worker process died; run it alone to see why")


def unforeseen(error: Exception) -> Lost:
    """What a fault of ours in one piece of work costs: that piece, and no other."""
    what = " ".join(f"unexpected {type(error).__name__}: {error}".split())
    return Lost(f"{what}; run it alone with --debug")


def in_processes(
    work: Callable[[Any], Any],
    pieces: Sequence[Any],
    *,
    jobs: int,
    limit_s: float | None = None,
    most_mib: int | None = None,
    on_end: Callable[[int], None] | None = None,
) -> Iterator[tuple[int, Any]]:
    """Do `work` on each of `pieces` in `jobs` processes; gives (number, result or Lost) as they end.

    `work`, pieces and results must be picklable. A piece that takes longer than `limit_s` is ended with its
    process, and so is one whose process takes more memory than `most_mib`. on_end: told the process id of
    every worker that had to be ended or died. When the caller stops (also by an interrupt) all workers are
    ended within two seconds.
    """
    crew: list[_Worker] = []
    waiting = deque(enumerate(pieces))
    try:
        while waiting or any(worker.number is not None for worker in crew):
            idle = sum(worker.number is None for worker in crew)
            for _ in range(min(jobs - len(crew), len(waiting) - idle)):
                crew.append(_Worker(work))
            for worker in crew:
                if worker.number is None and waiting:
                    worker.give(*waiting.popleft(), limit_s)
            busy = [(worker, worker.number) for worker in crew if worker.number is not None]
            ends = [worker.until for worker, _ in busy if worker.until is not None]
            soonest = max(0.0, min(ends) - time.monotonic()) if ends else None
            if most_mib is not None:
                soonest = _LOOK_S if soonest is None else min(_LOOK_S, soonest)
            ready = wait([worker.connection for worker, _ in busy], soonest)
            for worker, number in busy:
                if worker.connection in ready:
                    result = worker.take()
                elif worker.until is not None and time.monotonic() >= worker.until:
                    result = Lost(f"it took longer than {(limit_s or 0) / 60:g} minutes and was ended")
                elif most_mib is not None and worker.mib() > most_mib:
                    result = Lost(f"it took more than {most_mib} MiB of memory and was ended")
                else:
                    continue
                if worker.gone or (isinstance(result, Lost) and worker.number is not None):
                    crew.remove(worker)
                    _end([worker], on_end)
                yield number, result
    finally:
        _end(crew, on_end)


class _Worker:
    """One process, and the piece it has."""

    def __init__(self, work: Callable[[Any], Any]) -> None:
        context = multiprocessing.get_context("spawn")
        self.connection, theirs = context.Pipe()
        self.process = context.Process(target=_serve, args=(theirs, work), daemon=True)
        with _deaf(), _free(), _single():
            self.process.start()
        theirs.close()
        self.number: int | None = None
        self.until: float | None = None
        self.gone = False

    def give(self, number: int, piece: object, limit_s: float | None) -> None:
        self.number = number
        self.until = None if limit_s is None else time.monotonic() + limit_s
        with suppress(OSError):  # dead already: its connection tells
            self.connection.send(piece)

    def mib(self) -> float:
        """Memory that the process has taken, without what it has begun in its turn; 0 where it is gone.

        Windows moves what a process takes too much of to the disk: there all that it was given counts.
        """
        with suppress(psutil.Error):
            taken = psutil.Process(self.process.pid).memory_info()
            return float(max(taken.rss, getattr(taken, "private", 0))) / 2**20
        return 0.0

    def take(self) -> object:
        try:
            result: object = self.connection.recv()
        except (EOFError, OSError):
            self.gone = True
            return DIED
        self.number = None
        return result


def _end(workers: Sequence[_Worker], on_end: Callable[[int], None] | None) -> None:
    """End processes: asked first, so that they take away what they were writing, then by force."""
    for worker in workers:
        worker.connection.close()
        with suppress(OSError):  # Windows refuses it for one that is just going
            worker.process.terminate()
    until = time.monotonic() + GRACE_S
    for worker in workers:
        worker.process.join(max(0.0, until - time.monotonic()))
        if worker.process.is_alive():
            worker.process.kill()
            worker.process.join()
        if on_end is not None and worker.process.pid is not None and worker.number is not None:
            on_end(worker.process.pid)


def _serve(connection: Connection, work: Callable[[Any], Any]) -> None:
    """The life of a worker: pieces come, results go, until the caller is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the caller tells when to stop
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_follow, args=(parent,), daemon=True).start()
    try:
        with suppress(EOFError, OSError):
            while True:
                piece = connection.recv()
                try:
                    result = work(piece)
                except Exception as error:
                    result = unforeseen(error)
                connection.send(result)
    except SystemExit:
        os._exit(1)  # what was being written is taken away; to take the libraries apart would last longer
    signal.signal(signal.SIGTERM, signal.SIG_IGN)  # it is going, and has nothing left to take away


def _follow(parent: Any) -> None:  # noqa: ANN401 - a class that the library does not export
    """Go when the caller has been killed: nobody would take the result."""
    wait([parent.sentinel])
    os._exit(1)


@contextmanager
def _free() -> Iterator[None]:
    """A process that was begun as one that may have no children, as those of a cluster are, may have ours.

    They could be left over when it is killed; ours go when their caller goes.
    """
    config: dict[str, Any] = multiprocessing.current_process()._config  # type: ignore[attr-defined]
    before = config.get("daemon")
    config["daemon"] = False
    try:
        yield
    finally:
        config["daemon"] = before


@contextmanager
def _single() -> Iterator[None]:
    """A process begun within multiplies matrices in one thread: workers share the cores already."""
    name, one = ONE_THREAD
    if name in os.environ:
        yield
        return
    os.environ[name] = one
    try:
        yield
    finally:
        os.environ.pop(name, None)


@contextmanager
def _deaf() -> Iterator[None]:
    """A process started within does not hear the keys that stop its caller, from its first moment on.

    On Windows it takes over that its caller ignores them for that moment.
    """
    if os.name != "posix":
        _ignore_keys(True)
        try:
            yield
        finally:
            _ignore_keys(False)
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _ignore_keys(ignored: bool) -> None:
    """Let Windows pass Ctrl-C on to this process, or not: SetConsoleCtrlHandler without a handler."""
    import ctypes  # noqa: PLC0415 - wanted there alone

    windows: Any = getattr(ctypes, "windll", None)
    if windows is not None:
        windows.kernel32.SetConsoleCtrlHandler(None, ignored)
