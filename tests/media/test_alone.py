"""Of several processes that want the same result one works."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np

from mltassist.media import alone as waiting
from mltassist.media.alone import alone
from mltassist.media.cache import Analysis, Store, remembered

ROOT = Path(__file__).parents[2]
WORK = """
import os, sys, time
from pathlib import Path
import numpy as np
from mltassist.media.cache import Analysis, Store, remembered
folder, file = map(Path, sys.argv[1:3])
def compute():
    (folder / f"computed-{os.getpid()}").touch()
    if sys.argv[3] == "die":
        os._exit(1)
    time.sleep(0.5)
    return {"a": np.arange(3)}
print("ready", flush=True)
sys.stdin.readline()
assert list(remembered(file, Analysis("x", 1), compute, store=Store(folder / "cache"))["a"]) == [0, 1, 2]
"""


def begun(folder: Path, how: str = "") -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WORK, str(folder), str(folder / "file"), how]
    made = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT)
    assert made.stdout is not None
    assert made.stdout.readline() == "ready\n"
    return made


def test_of_three_processes_one_computes(tmp_path):
    (tmp_path / "file").write_bytes(b"media")
    crew = [begun(tmp_path) for _ in range(3)]
    for process in crew:
        process.stdin.write("go\n")
        process.stdin.flush()
    assert [process.wait(20) for process in crew] == [0, 0, 0]
    for process in crew:
        process.communicate()
    assert len(list(tmp_path.glob("computed-*"))) == 1


def test_one_that_dies_leaves_the_work_to_the_next(tmp_path):
    (tmp_path / "file").write_bytes(b"media")
    begun(tmp_path, "die").communicate("go\n")
    begun(tmp_path).communicate("go\n")
    assert len(list(tmp_path.glob("computed-*"))) == 2


def test_work_within_never_waits_for_other_work_and_patience_ends(tmp_path, monkeypatch):
    monkeypatch.setattr(waiting, "_PATIENCE_S", 0.2)
    began = time.monotonic()
    with alone(tmp_path, "a"), alone(tmp_path, "a"):  # else it would wait for itself
        other = threading.Thread(target=lambda: alone(tmp_path, "a").__enter__())
        other.start()
        other.join(5)
        assert not other.is_alive()  # it goes on by itself
    assert time.monotonic() - began < 5


def test_a_folder_that_cannot_be_made_stops_nobody(tmp_path):
    (tmp_path / "cache").write_text("no folder")
    (tmp_path / "file").write_bytes(b"media")
    found = remembered(
        tmp_path / "file", Analysis("x", 1), lambda: {"a": np.arange(2)}, store=Store(tmp_path / "cache")
    )
    assert list(found["a"]) == [0, 1]
