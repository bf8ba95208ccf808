"""What a run may do at all: watched by Python's own audit (PEP 578) in a process of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.films import short, with_file, write

pytestmark = pytest.mark.skipif(os.name != "posix", reason="names of posix files and pipes")
WATCHED = """
import json, os, sys
events = []
def hook(event, given):
    if event in ("socket.connect", "socket.bind", "socket.sendto", "socket.getaddrinfo"):
        events.append([event, repr(given[1:])])
    elif event in ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork", "pty.spawn"):
        events.append([event, repr(given[:1])])
    elif event == "pickle.find_class":
        events.append([event, repr(given)])
    elif event == "open" and isinstance(given[0], (str, bytes)):
        name, mode, flags = given
        if (flags or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT) and os.fsdecode(name) != os.devnull:
            events.append(["write", os.path.realpath(os.fsdecode(name))])
        else:
            events.append(["read", os.path.realpath(os.fsdecode(name))])
    elif event in ("os.rename", "os.link", "os.remove", "os.mkdir", "os.rmdir", "shutil.rmtree"):
        names = [os.fsdecode(one) for one in given if isinstance(one, (str, bytes))]
        events.extend(["write", os.path.realpath(name)] for name in names)
sys.addaudithook(hook)
from mltassist.cli.main import main
try:
    main(sys.argv[2:])
except SystemExit as left:
    status = left.code
watched = list(events)
with open(sys.argv[1], "w") as file:
    json.dump({"status": status, "events": watched}, file)
"""


@pytest.fixture
def hostile(tmp_path) -> Path:
    """A film whose media are an address with a folder of its name, a playlist, a device and a pipe."""
    folder = tmp_path / "films"
    folder.mkdir()
    path = write(short(700), folder, "plain.mlt")
    (folder / "http:" / "127.0.0.1:9").mkdir(parents=True)
    (folder / "http:" / "127.0.0.1:9" / "x.mp4").write_bytes(b"no film")
    (folder / "live.m3u8").write_text(
        "#EXTM3U\n#EXTINF:5,\nhttp://127.0.0.1:9/x.ts\n#EXTINF:5,\n/etc/hostname\n"
    )
    os.mkfifo(folder / "pipe.mp4")
    for number, name in enumerate(("http://127.0.0.1:9/x.mp4", "live.m3u8", "/dev/zero", "pipe.mp4")):
        old = ("wheel-ws", "wheel-ms", "wheel-cu", "gulls-ws")[number]
        with_file(path, f"media/cutaways/{old}.mp4", name)
    (folder / "log.csv").symlink_to("/dev/zero")
    return path


@pytest.mark.parametrize("command", ["survey", "rough"])
def test_a_run_writes_what_it_was_asked_for_and_asks_nobody(hostile, tmp_path, command):
    told, home, made = tmp_path / "told.json", tmp_path / "home", tmp_path / "made"
    made.mkdir()
    more = () if command == "survey" else ("-o", made / "new.mlt", "--plan", made / "plan.json")
    environment = {
        **os.environ,
        "XDG_CACHE_HOME": str(home),
        "HOME": str(home),
        "MLTASSIST_CACHE": str(home),
        "TMPDIR": str(home),
    }
    home.mkdir()
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, told, command, hostile, *more],
        check=False,
        capture_output=True,
        text=True,
        cwd=hostile.parent,
        env={**environment, "PYTHONDONTWRITEBYTECODE": "1"},
        timeout=120,
    )
    assert told.exists(), done.stderr
    found = json.loads(told.read_text())
    assert found["status"] in (0, 1), done.stderr
    kinds = {kind for kind, _ in found["events"]}
    assert "read" in kinds  # the hook was there
    assert kinds <= {"read", "write", "pickle.find_class"}, [e for e in found["events"] if e[0] not in kinds]
    assert "pickle.find_class" not in kinds
    written = {Path(what) for kind, what in found["events"] if kind == "write"}
    assert all(path.is_relative_to(home) or path.is_relative_to(made) for path in written), written
    assert command == "survey" or (made / "new.mlt").exists()
    read = {what for kind, what in found["events"] if kind == "read"}
    assert not {
        what for what in read if what.startswith("/dev/zero") or what.endswith(("pipe.mp4", "hostname"))
    }
