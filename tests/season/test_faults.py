"""Runs killed at random moments, and a disk that is full."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

import mltassist
from mltassist.document.leftovers import SETTLED_S
from tests.cli.conftest import digest
from tests.cli.films import scarce, short, write

pytestmark = pytest.mark.skipif(os.name != "posix", reason="SIGKILL and mounts of posix")
KILLS = 3


def rough(path: Path, target: Path) -> list[str]:
    quick = ["rough", str(path), "--no-look", "--force", "-o", str(target)]
    return [sys.executable, "-m", "mltassist", *quick]


def wrong_after_kills(folder: Path, kills: int, seed: int) -> list[str]:
    """Kill `rough` over and over, then let it end; tells what is not as it has to be.

    The old file stays whole or the new one is, the run after makes the new one, and nothing else is left.
    """
    path = write(scarce(short(700)), folder, "plain.mlt")
    target, before = folder / "new.mlt", digest(path)
    target.write_text("old")
    dice = random.Random(seed)
    lasts_s = 3.0
    whole, wrong = {b"old"}, list[str]()
    for kill in range(kills):
        running = subprocess.Popen(rough(path, target), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(dice.uniform(0, lasts_s))
        running.kill()
        running.wait()
        if (now := target.read_bytes()) not in whole:
            wrong += [] if is_covered(target) else [f"after kill {kill} the file is half"]
            whole.add(now)
    for left in folder.glob(".mltassist-*.tmp"):
        then = time.time() - SETTLED_S - 1
        os.utime(left, (then, then))
    done = subprocess.run(rough(path, target), check=False, capture_output=True, text=True)
    there = sorted(one.name for one in folder.iterdir())
    wrong += (
        [] if done.returncode in (0, 1) else [f"the last run ended with {done.returncode}: {done.stderr}"]
    )
    wrong += [] if is_covered(target) else ["the last run made no whole film"]
    wrong += [] if there == ["media", "new.mlt", "plain.mlt"] else [f"there is left: {there}"]
    wrong += [] if digest(path) == before else ["the original was changed"]
    return wrong


def is_covered(document: Path) -> bool:
    """Whether it is a whole film with our track in it."""
    try:
        return mltassist.open(document).timeline.of_role("cover") is not None
    except mltassist.MltAssistError:
        return False


def test_a_killed_run_leaves_the_old_file_and_the_next_is_right(tmp_path):
    assert wrong_after_kills(tmp_path, KILLS, seed=200) == []


@pytest.fixture
def small_disk(tmp_path):
    """A file system of 64 KiB of its own."""
    folder = tmp_path / "small"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)]
    if os.geteuid() != 0 or subprocess.run(mount, check=False, capture_output=True).returncode != 0:
        pytest.skip("only root may mount a small file system, and not everywhere")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_is_told_and_leaves_the_old_file(tmp_path, small_disk):
    path = write(short(700), tmp_path, "plain.mlt")
    target = small_disk / "new.mlt"
    target.write_text("old")
    (small_disk / "filler").write_bytes(bytes(48 * 1024))
    project = mltassist.open(path)
    with pytest.raises(mltassist.MltAssistError, match="No space left on device"):
        project.save(target, force=True)
    assert target.read_text() == "old"
    assert sorted(one.name for one in small_disk.iterdir()) == ["filler", "new.mlt"]
    (small_disk / "filler").unlink()
    project.save(target, force=True)
    assert mltassist.open(target).timeline.length == project.timeline.length


@pytest.fixture
def read_only(tmp_path):
    """A folder in which nothing can be written: root may write into any but one of such a file system."""
    folder = tmp_path / "shelf"
    folder.mkdir()
    if os.geteuid() != 0:
        folder.chmod(0o555)
        yield folder
        folder.chmod(0o755)
        return
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "ro", "tmpfs", str(folder)], check=False).returncode:
        pytest.skip("root may mount a file system that cannot be written to, but not everywhere")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_folder_that_cannot_be_written_to_is_told_before_the_work(tmp_path, read_only, monkeypatch):
    path = write(short(300), tmp_path, "plain.mlt")
    monkeypatch.setattr("mltassist.batches.each_of", None)  # no work is begun
    with pytest.raises(mltassist.MltAssistError) as told:
        mltassist.batch(path, read_only)
    assert (
        str(told.value) == f"{read_only}: cannot be written to; choose another folder, or change its rights"
    )
    assert not list(read_only.iterdir())
