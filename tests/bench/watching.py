"""A command watched while it runs: what it, and each of the processes that it begins, takes."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import psutil

LOOK_S = 0.4
"""Time between two looks. To list processes takes 2 ms of the processor: a look every twentieth of a second,
at each process by itself, took a ninth of a core from what it looked at."""


@dataclass
class Watched:
    """What was seen. by_process, most_mib: by the process that the command began; 0 is its own.

    What those began in their turn is counted with them, but not its memory.
    """

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
        while True:
            with suppress(subprocess.TimeoutExpired):
                running.wait(LOOK_S)
                break
            with suppress(psutil.Error):
                _look(process, found)
        found.wall_s = time.monotonic() - began
    return found


def _look(process: psutil.Process, found: Watched) -> None:
    """All below a process listed once; what each took goes to the one that the command itself began."""
    found.own_s = _seconds(process)
    found.most_mib[0] = max(found.most_mib.get(0, 0.0), _mib(process))
    above = {process.pid: 0}
    seconds = dict[int, float]()
    for one in process.children(recursive=True):  # parents come before their children
        with suppress(psutil.Error):
            parent = one.ppid()
            own = above[one.pid] = above.get(parent) or one.pid
            seconds[own] = seconds.get(own, 0.0) + _seconds(one)
            if own == one.pid:
                found.most_mib[own] = max(found.most_mib.get(own, 0.0), _mib(one))
    for own, taken in seconds.items():
        found.by_process[own] = max(found.by_process.get(own, 0.0), taken)


def _mib(process: psutil.Process) -> float:
    """The most memory that a process has held, where the system tells it; else what it holds."""
    try:
        told = Path(f"/proc/{process.pid}/status").read_text(encoding="ascii", errors="replace")
    except OSError:
        return float(process.memory_info().rss) / 2**20
    most = next((line for line in told.splitlines() if line.startswith("VmHWM:")), "VmHWM: 0 kB")
    return float(most.split()[1]) / 1024


def _seconds(process: psutil.Process) -> float:
    times = process.cpu_times()
    return float(times.user + times.system)
