"""A season with everything that goes wrong in a night, stopped and taken up again."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

import mltassist
from mltassist.season.record import NAME
from tests.cli.conftest import digest
from tests.cli.films import EXAMPLE, scarce, short, with_file, write

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals, pipes and /proc of posix")
QUICK = ("--no-look",)


@pytest.fixture
def season(tmp_path) -> Path:
    """Two good films, one that is broken, one that plays a pipe, one whose cutaway is missing."""
    first = write(scarce(short(400), "wheel-ws"), tmp_path, "plain.mlt").read_bytes()
    (tmp_path / "plain.mlt").unlink()
    (tmp_path / "media").unlink()
    for name in ("ep1", "ep2", "hostile", "missing", "broken"):
        folder = tmp_path / "series" / name
        folder.mkdir(parents=True)
        (folder / "media").symlink_to(EXAMPLE / "media")
        (folder / "film.mlt").write_bytes(first)
    series = tmp_path / "series"
    (series / "broken" / "film.mlt").write_text("<mlt")
    os.mkfifo(series / "hostile" / "pipe.mp4")
    with_file(series / "hostile" / "film.mlt", "media/interview/ines.mp4", "pipe.mp4")
    with_file(series / "missing" / "film.mlt", "cutaways/wheel-ws.mp4", "cutaways/gone.mp4")
    return series


def batch(series: Path, *more: str, **options: object) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "mltassist", "batch", str(series), "--out", str(series.parent / "out")]
    return subprocess.Popen(
        [*command, *QUICK, *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        **options,
    )


def made(series: Path) -> dict[str, str]:
    out = series.parent / "out"
    return {path.parent.name: digest(path) for path in out.rglob("film-rough.mlt")}


def workers_of(process: subprocess.Popen[str]) -> list[int]:
    """Its working children: the library has one more, which keeps count of what they share."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            if int(stat.read_text().rpartition(")")[2].split()[1]) == process.pid:
                command = stat.with_name("cmdline").read_bytes()
                found += [int(stat.parent.name)] if b"spawn_main" in command else []
    return found


def test_all_that_can_be_is_there_once_after_a_kill_a_stop_and_another_run(season):
    originals = {path: digest(path) for path in season.rglob("film.mlt")}
    log = season.parent / "log.jsonl"
    running = batch(season, "--jobs", "2", "--json", "--log", str(log))
    until = time.monotonic() + 120
    while not log.exists() and time.monotonic() < until:
        time.sleep(0.05)
    os.kill(workers_of(running)[0], signal.SIGKILL)
    lines = len(log.read_text().splitlines())
    while len(log.read_text().splitlines()) < lines + 1 and time.monotonic() < until:
        time.sleep(0.05)
    os.killpg(running.pid, signal.SIGINT)
    stopped = time.monotonic()
    out, told = running.communicate(timeout=20)
    assert time.monotonic() - stopped < 2
    assert running.returncode == 130
    assert out == ""
    line = told.removesuffix("\n\n")  # the library that reads the command line adds an empty one
    assert "\n" not in line
    assert line.startswith("mltassist: stopped, ")
    before = made(season)
    assert len(before) < 4
    out_folder = season.parent / "out"
    assert not [path for path in out_folder.rglob("*") if path.suffix == ".tmp"]
    for path in out_folder.rglob("film-rough.mlt"):
        assert mltassist.open(path).timeline.of_role("cover") is not None

    again = batch(season, "--jobs", "2", "--json")
    out, told = again.communicate(timeout=300)
    rows = {Path(row["project"]).parent.name: row for row in json.loads(out)["outcomes"]}
    assert [name for name, row in rows.items() if row["problem"]] == ["broken"]
    assert {name for name, row in rows.items() if row["before"]} == set(before)
    after = made(season)
    assert set(after) == {"ep1", "ep2", "hostile", "missing"}
    assert before.items() <= after.items()
    assert any("pipe.mp4" in note["text"] for note in rows["hostile"]["notes"])
    assert any("gone.mp4" in note["text"] for note in rows["missing"]["notes"])
    assert "Traceback" not in told
    assert {path: digest(path) for path in originals} == originals
    assert {path.name for path in out_folder.iterdir()} == {NAME, *after}

    # A third run finds all of it done, in no time; a changed film is refused, and done anew when told so.
    third = batch(season, "--jobs", "1", "--json")
    rows = json.loads(third.communicate(timeout=60)[0])["outcomes"]
    assert [row["before"] for row in rows] == [not row["problem"] for row in rows]
    assert made(season) == after
    shutil.copy(season / "missing" / "film.mlt", season / "ep1" / "film.mlt")
    rows = json.loads(batch(season, "--jobs", "1", "--json").communicate(timeout=60)[0])["outcomes"]
    (changed,) = [row["problem"] for row in rows if "ep1" in row["project"]]
    assert "exists already" in changed


def test_a_film_that_hangs_is_ended_and_named(season, monkeypatch):
    for name in ("hostile", "missing", "ep2"):
        shutil.rmtree(season / name)
    (season / "broken" / "film.mlt").unlink()
    ended = batch(season, "--limit", "0.005", "--json")
    out, told = ended.communicate(timeout=60)
    assert ended.returncode == 2
    (row,) = json.loads(out)["outcomes"]
    assert row["problem"] == "it took longer than 0.005 minutes and was ended"
    assert len(told.splitlines()) == 1
    assert not made(season)
