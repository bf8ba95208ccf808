"""What a run may do at all: watched by Python's own audit (PEP 578) in every process that it begins."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.cli.films import scarce, short, with_file, write

pytestmark = pytest.mark.skipif(os.name != "posix", reason="names of posix files and pipes")
WATCH = """
import json, os, sys
name = os.path.join(os.environ["TOLD"], f"{os.getpid()}.jsonl")
told = os.open(name, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
ASKED = ("socket.connect", "socket.bind", "socket.sendto", "socket.getaddrinfo", "pickle.find_class")
BEGUN = ("os.system", "os.exec", "os.posix_spawn", "os.fork", "pty.spawn")
CHANGED = ("os.rename", "os.link", "os.remove", "os.mkdir", "os.rmdir", "shutil.rmtree")
def tell(kind, what):
    os.write(told, json.dumps([kind, what]).encode() + b"\\n")
def hook(event, given):
    if event in ASKED:
        tell(event, repr(given[1:]))
    elif event in BEGUN:
        tell(event, repr(given[:1]))
    elif event == "subprocess.Popen":
        tell(event, [os.fsdecode(given[0]), *map(os.fsdecode, given[1][1:3])])
    elif event == "open" and isinstance(given[0], (str, bytes)):
        name, mode, flags = given
        writes = (flags or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT) and os.fsdecode(name) != os.devnull
        tell("write" if writes else "read", os.path.realpath(os.fsdecode(name)))
    elif event in CHANGED:
        for name in given:
            if isinstance(name, (str, bytes)):
                tell("write", os.path.realpath(os.fsdecode(name)))
sys.addaudithook(hook)
"""


@pytest.fixture
def hostile(tmp_path) -> Path:
    """A film whose media are an address with a folder of its name, a playlist, a device and a pipe."""
    folder = tmp_path / "films"
    folder.mkdir()
    replaced = ("wheel-ws", "wheel-ms", "wheel-cu", "gulls-ws")
    path = write(scarce(short(700), *replaced), folder, "plain.mlt")
    (folder / "http:" / "127.0.0.1:9").mkdir(parents=True)
    (folder / "http:" / "127.0.0.1:9" / "x.mp4").write_bytes(b"no film")
    (folder / "live.m3u8").write_text(
        "#EXTM3U\n#EXTINF:5,\nhttp://127.0.0.1:9/x.ts\n#EXTINF:5,\n/etc/hostname\n"
    )
    os.mkfifo(folder / "pipe.mp4")
    for number, name in enumerate(("http://127.0.0.1:9/x.mp4", "live.m3u8", "/dev/zero", "pipe.mp4")):
        with_file(path, f"media/cutaways/{replaced[number]}.mp4", name)
    (folder / "log.csv").symlink_to("/dev/zero")
    return path


@dataclass(frozen=True)
class Seen:
    """What the processes of a run did: (kind, what), process by process; home: all that is the user's own."""

    done: subprocess.CompletedProcess[str]
    home: Path
    processes: list[list[tuple[str, Any]]]

    def of(self, kind: str) -> list[Any]:
        return [what for events in self.processes for one, what in events if one == kind]

    @property
    def kinds(self) -> set[str]:
        return {kind for events in self.processes for kind, _ in events}


def watched(folder: Path, *command: object, within: Path) -> Seen:
    """Run a command, watched. folder: where it is watched from; within: its working folder."""
    told, home = folder / "told", folder / "home"
    for one in (told, home):
        one.mkdir(exist_ok=True)
    for earlier in told.glob("*.jsonl"):
        earlier.unlink()
    # Every Python that begins looks for a module of this name first.
    (told / "sitecustomize.py").write_text(WATCH)
    environment = {
        **os.environ,
        **dict.fromkeys(("XDG_CACHE_HOME", "HOME", "MLTASSIST_CACHE", "TMPDIR"), str(home)),
        "PYTHONPATH": os.pathsep.join((str(told), *filter(None, sys.path))),
        "PYTHONDONTWRITEBYTECODE": "1",
        "TOLD": str(told),
    }
    done = subprocess.run(
        [sys.executable, "-m", "mltassist", *map(str, command)],
        check=False,
        capture_output=True,
        text=True,
        cwd=within,
        env=environment,
        timeout=240,
    )
    lines = [path.read_text().splitlines() for path in told.glob("*.jsonl")]
    return Seen(done, home, [[tuple(json.loads(line)) for line in one] for one in lines])


NEVER_READ = ("/dev/zero", "pipe.mp4", "hostname")


@pytest.mark.parametrize("command", ["survey", "rough"])
def test_a_run_writes_what_it_was_asked_for_and_asks_nobody(hostile, tmp_path, command):
    made = tmp_path / "made"
    made.mkdir()
    more = () if command == "survey" else ("-o", made / "new.mlt", "--plan", made / "plan.json")
    seen = watched(tmp_path, command, hostile, *more, within=hostile.parent)
    assert seen.done.returncode in (0, 1), seen.done.stderr
    assert len(seen.processes) == 2  # one of them reads headers alone
    assert all("read" in {kind for kind, _ in events} for events in seen.processes)  # the hook was there
    assert seen.kinds <= {"read", "write", "subprocess.Popen"}
    assert seen.of("subprocess.Popen") == [[sys.executable, "-P", "-c"]]  # no shell, no other
    written = set(map(Path, seen.of("write")))
    assert all(path.is_relative_to(seen.home) or path.is_relative_to(made) for path in written), written
    assert command == "survey" or (made / "new.mlt").exists()
    assert not {what for what in seen.of("read") if what.endswith(NEVER_READ)}
