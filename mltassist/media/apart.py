"""A process apart for work that may never end or eat all memory: it is ended, and begun anew for the next.

It is kept for many requests, so that one costs next to nothing. Both sides watch: the process ends itself
when a request takes too long or too much, also where nobody is left to ask; the caller ends it when it hangs
beyond that.
"""

from __future__ import annotations

import atexit
import json
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from importlib import import_module
from queue import Empty, Queue
from typing import Any

_LATE, _LARGE = 71, 72
"""Exit codes by which the process says why it ended itself."""
_GRACE_S = 2.0
_LOOK_S = 0.02
"""Time between two looks at its memory: a library takes some 40 MB in it at most."""
_BEGIN = """
import json, sys
sys.path[:] = json.loads(sys.argv[1])
from mltassist.media.apart import serve
serve()
"""


@dataclass(frozen=True, slots=True)
class Trouble:
    """A request that gave no result. `why`: in words, for a person."""

    why: str


class Apart:
    """Calls a function in a process of its own: one text in, plain data (as of JSON) out.

    work: the function as "module:name"; what it raises comes back as Trouble. limit_s and most_mib hold for
    one request and for the whole process (resident memory).
    """

    def __init__(self, work: str, *, limit_s: float, most_mib: int) -> None:
        self.work, self.limit_s, self.most_mib = work, limit_s, most_mib
        self._process: subprocess.Popen[bytes] | None = None
        self._answers: Queue[bytes] = Queue()
        self._asking = threading.Lock()
        atexit.register(self.close)
        if hasattr(os, "register_at_fork"):
            os.register_at_fork(after_in_child=self._forget)

    def ask(self, request: str) -> Any:  # noqa: ANN401 - plain data of whatever shape the work gives
        """What the work makes of a text, or Trouble."""
        with self._asking:
            try:
                return self._asked(request)
            except OSError as error:
                self._end()
                return Trouble(f"the process that reads them cannot be started or asked ({error.strerror})")
            except BaseException:  # an interrupt: the answer would be taken for that of the next request
                self._end()
                raise

    def close(self) -> None:
        """End the process. It is begun again when it is asked again."""
        with self._asking:
            self._end()

    def _asked(self, request: str) -> Any:  # noqa: ANN401
        if self._process is None or self._process.poll() is not None:
            self._end()
            self._begin()
        process = self._process
        if process is None or process.stdin is None:
            raise OSError(None, "it has no way in")
        with suppress(BrokenPipeError):  # dead already: its other end tells
            process.stdin.write(json.dumps(request).encode() + b"\n")
            process.stdin.flush()
        late = Trouble(f"the library does not end within {self.limit_s:g} s")
        try:
            line = self._answers.get(timeout=self.limit_s + _GRACE_S)
        except Empty:
            self._end()
            return late
        if line:
            answer = json.loads(line)
            return Trouble(answer["trouble"]) if "trouble" in answer else answer["value"]
        large = Trouble(f"the library needs more than {self.most_mib} MiB for them")
        told = {_LATE: late, _LARGE: large, None: late}
        return told.get(self._end(1), Trouble("the library fails on them"))

    def _begin(self) -> None:
        given = [sys.executable, "-P", "-c", _BEGIN, json.dumps(sys.path), self.work]
        self._process = process = subprocess.Popen(  # noqa: S603 - our own code, no shell
            [*given, str(self.limit_s), str(self.most_mib)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        self._answers = answers = Queue[bytes]()
        threading.Thread(target=_listen, args=(process, answers), daemon=True).start()

    def _end(self, patience_s: float = 0) -> int | None:
        """End the process; the code with which it had ended already or does now, None where it had not."""
        process, self._process = self._process, None
        if process is None:
            return None
        with suppress(subprocess.TimeoutExpired):
            process.wait(patience_s)
        code = process.poll()
        process.kill()
        process.wait()
        if process.stdin is not None:
            with suppress(OSError):
                process.stdin.close()
        return code

    def _forget(self) -> None:
        """In a copy of the caller: the process is the original's."""
        self._asking, self._process = threading.Lock(), None


def _listen(process: subprocess.Popen[bytes], answers: Queue[bytes]) -> None:
    """Pass on what the process answers, and nothing at its end."""
    if process.stdout is not None:
        with process.stdout as way:
            for line in way:
                answers.put(line)
    answers.put(b"")


def serve() -> None:
    """The life of the process: requests come, answers go, until the caller is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the caller tells when to stop
    work, limit_s, most_mib = sys.argv[2], float(sys.argv[3]), int(sys.argv[4])
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is no answer
    module, _, name = work.partition(":")
    function = getattr(import_module(module), name)
    watch = _Watch(limit_s, most_mib * 2**20)
    for line in sys.stdin.buffer:
        watch.begins()
        try:
            answer = {"value": function(json.loads(line))}
        except Exception as error:
            answer = {"trouble": getattr(error, "strerror", None) or str(error) or type(error).__name__}
        watch.ends()
        out.write(json.dumps(answer).encode() + b"\n")
        out.flush()


class _Watch:
    """Ends its own process when a request takes too long or too much memory."""

    def __init__(self, limit_s: float, most_bytes: int) -> None:
        self.limit_s, self.most_bytes = limit_s, most_bytes
        self._until: float | None = None
        self._busy = threading.Event()
        threading.Thread(target=self._look, daemon=True).start()

    def begins(self) -> None:
        self._until = time.monotonic() + self.limit_s
        self._busy.set()

    def ends(self) -> None:
        self._until = None
        self._busy.clear()

    def _look(self) -> None:
        import psutil  # noqa: PLC0415 - wanted in this process alone

        own = psutil.Process()
        while self._busy.wait():
            if own.memory_info().rss > self.most_bytes:
                os._exit(_LARGE)
            if (until := self._until) is not None and time.monotonic() > until:
                os._exit(_LATE)
            time.sleep(_LOOK_S)
