"""`batch` killed at random moments, or a worker of it: run again, each project is there once and whole."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from contextlib import suppress
from pathlib import Path

import pytest

from mltassist.document.leftovers import SETTLED_S
from mltassist.season.record import NAME
from tests.cli.conftest import digest
from tests.cli.films import EXAMPLE, scarce, short, write
from tests.season.test_faults import is_covered
from tests.season.test_season import workers_of

pytestmark = pytest.mark.skipif(os.name != "posix", reason="SIGKILL and /proc of posix")


def season_of(folder: Path, films: int) -> Path:
    """Short films that share their media."""
    first = write(scarce(short(300)), folder, "plain.mlt").read_bytes()
    series = folder / "series"
    for number in range(films):
        own = series / f"ep{number}"
        own.mkdir(parents=True)
        (own / "media").symlink_to(EXAMPLE / "media")
        (own / "film.mlt").write_bytes(first)
    return series


def begun(series: Path, out: Path, *more: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "mltassist", "batch", str(series), "--out", str(out), "--no-look"]
    return subprocess.Popen(
        [*command, "--jobs", "2", *more], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def wrong_after_batch_kills(folder: Path, *, films: int, kills: int, seed: int, within_s: float) -> list[str]:
    """A season made once for comparison, then killed over and over, each time taken up where it was.

    Tells what is not as it has to be.
    """
    series = season_of(folder, films)
    originals = {path: digest(path) for path in series.rglob("film.mlt")}
    clean, out = folder / "clean", folder / "out"
    begun(series, clean).communicate(timeout=600)
    wanted = {path.relative_to(clean): digest(path) for path in clean.rglob("*.mlt")}
    wrong = [] if len(wanted) == films else [f"without kills {len(wanted)} of {films} films were made"]
    dice = random.Random(seed)
    for kill in range(kills):
        running = begun(series, out)
        time.sleep(dice.uniform(0, within_s))
        if kill % 2 == 0:
            running.kill()
        else:
            for worker in workers_of(running)[:1]:
                with suppress(ProcessLookupError):
                    os.kill(worker, signal.SIGKILL)
        running.communicate(timeout=600)
        # Whatever is there by its name is whole: the very film that a run without kills makes.
        there = {path.relative_to(out): digest(path) for path in out.rglob("film-rough.mlt")}
        wrong += [f"after kill {kill}: {path}" for path, _ in there.items() - wanted.items()]
        if len(there) == films and kill + 1 < kills:  # or the kills to come would meet a season that is done
            for made in out.rglob("film-rough.mlt"):
                made.unlink()
            (out / NAME).unlink(missing_ok=True)
    for left in out.rglob(".mltassist-*.tmp"):  # of a run that could not tidy up: the next one does, in time
        then = time.time() - SETTLED_S - 1
        os.utime(left, (then, then))
    last = begun(series, out, "--json")
    told = json.loads(last.communicate(timeout=600)[0])
    wrong += [row["problem"] for row in told["outcomes"] if row["problem"]]
    there = {path.relative_to(out): digest(path) for path in out.rglob("*") if path.is_file()}
    noted = Counter(json.loads(line)["place"] for line in (out / NAME).read_text().splitlines())
    named = {path.as_posix() for path in wanted}
    wrong += [] if there == {**wanted, Path(NAME): digest(out / NAME)} else [f"in the end: {sorted(there)}"]
    wrong += [] if set(noted) == named else [f"noted as finished: {noted}"]
    wrong += [f"{path} was changed" for path, one in originals.items() if digest(path) != one]
    wrong += [f"{path} is not covered" for path in wanted if not is_covered(out / path)]
    return wrong


def test_a_killed_batch_is_taken_up_and_each_film_is_there_once(tmp_path: Path) -> None:
    assert wrong_after_batch_kills(tmp_path, films=2, kills=1, seed=7, within_s=1.5) == []
