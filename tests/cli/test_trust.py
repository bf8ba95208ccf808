"""What a run may do at all: watched by Python's own audit (PEP 578) in every process that it begins."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

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


@pytest.mark.parametrize("command", ["survey", "rough"])
def test_a_run_writes_what_it_was_asked_for_and_asks_nobody(hostile, tmp_path, command):
    told, home, made = tmp_path / "told", tmp_path / "home", tmp_path / "made"
    for folder in (told, home, made):
        folder.mkdir()
    # Every Python that begins looks for a module of this name first.
    (told / "sitecustomize.py").write_text(WATCH)
    more = () if command == "survey" else ("-o", made / "new.mlt", "--plan", made / "plan.json")
    environment = {
        **os.environ,
        **dict.fromkeys(("XDG_CACHE_HOME", "HOME", "MLTASSIST_CACHE", "TMPDIR"), str(home)),
        "PYTHONPATH": os.pathsep.join((str(told), *filter(None, sys.path))),
        "PYTHONDONTWRITEBYTECODE": "1",
        "TOLD": str(told),
    }
    done = subprocess.run(
        [sys.executable, "-m", "mltassist", command, hostile, *more],
        check=False,
        capture_output=True,
        text=True,
        cwd=hostile.parent,
        env=environment,
        timeout=120,
    )
    assert done.returncode in (0, 1), done.stderr
    processes = [path.read_text().splitlines() for path in told.glob("*.jsonl")]
    reads_headers = command == "rough"  # in a process of its own
    assert len(processes) == 1 + reads_headers
    events = [json.loads(line) for lines in processes for line in lines]
    assert all('["read"' in "".join(lines) for lines in processes)  # the hook was there
    assert {kind for kind, _ in events} <= {"read", "write", "subprocess.Popen"}
    begun = [what for kind, what in events if kind == "subprocess.Popen"]
    assert begun == [[sys.executable, "-P", "-c"]] * reads_headers  # no shell, no other program
    written = {Path(what) for kind, what in events if kind == "write"}
    assert all(path.is_relative_to(home) or path.is_relative_to(made) for path in written), written
    assert command == "survey" or (made / "new.mlt").exists()
    read = {what for kind, what in events if kind == "read"}
    assert not {
        what for what in read if what.startswith("/dev/zero") or what.endswith(("pipe.mp4", "hostname"))
    }
