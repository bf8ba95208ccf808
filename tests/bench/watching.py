"""A command watched while it runs: what it, and each of the processes that it begins, takes."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import psutil

LOOK_S = 0.05


@dataclass
class Watched:
    """What was seen. cpu_s and most_mib: by process, the command's own first; each with all below it."""

    wall_s: float = 0.0
    by_process: dict[int, float] = field(default_factory=dict)
    most_mib: dict[int, float] = field(default_factory=dict)
    own_s: float = 0.0

    @property
    def cpu_s(self) -> float:
        """Seconds of the processor, of all."""
        return self.own_s + sum(self.by_process.values())

    @property
    def critical_s(self) -> float:
        """Seconds of the command itself and of the busiest process below it."""
        return self.own_s + max(self.by_process.values(), default=0.0)


def watched(
    command: Sequence[str], environment: Mapping[str, str], folder: Path, *, cores: int | None = None
) -> Watched:
    """Run a command to its end. cores: it and all that it begins have so many processors, where that can be.

    One worker takes more than one of them where it may: it mixes in threads, and reads headers in a process.
    """
    found, began = Watched(), time.monotonic()
    with subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=dict(environment), cwd=folder
    ) as running:
        process = psutil.Process(running.pid)
        if cores is not None and hasattr(process, "cpu_affinity"):  # not on macOS
            process.cpu_affinity(process.cpu_affinity()[:cores])
        while running.poll() is None:
            with suppress(psutil.Error):
                found.own_s = _seconds(process)
                found.most_mib[0] = max(found.most_mib.get(0, 0.0), process.memory_info().rss / 2**20)
                for child in process.children():
                    _look(child, found)
            time.sleep(LOOK_S)
        found.wall_s = time.monotonic() - began
    return found


def _look(child: psutil.Process, found: Watched) -> None:
    with suppress(psutil.Error):
        all_of_it = [child, *child.children(recursive=True)]
        seconds, mib = sum(map(_seconds, all_of_it)), child.memory_info().rss / 2**20
        found.by_process[child.pid] = max(found.by_process.get(child.pid, 0.0), seconds)
        found.most_mib[child.pid] = max(found.most_mib.get(child.pid, 0.0), mib)


def _seconds(process: psutil.Process) -> float:
    times = process.cpu_times()
    return float(times.user + times.system)
