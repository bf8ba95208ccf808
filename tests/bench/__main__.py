"""Every figure that is asked for beside its floor in the same run: ``python -m tests.bench``."""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from tests.bench.figures import Figure, Found, Growth, found_of, notes_in, noting
from tests.bench.measures import BY_LENGTH, ONCE
from tests.bench.stages import ALL, TESTS

ROOT = Path(__file__).parents[2]
MINUTES = (10, 30, 60, 120, 240)
say = sys.stdout.write


def main() -> int:
    """Measure what is asked for, tell it, and write it where wanted; 1 where a figure is not reached."""
    given = arguments()
    found, rows = Found(), list[dict[str, Any]]()
    with keeping(given.keep) as folder:
        for stage, measure in stages(given.only or ALL, given.minutes):
            row = once(stage, measure, folder / f"{stage}.json")
            rows.append(row)
            found.add(found_of(row["found"]))
    found.figures += growing(found.growths)
    say("\nall figures\n")
    for figure in found.figures:
        tell(figure)
    for growth in found.growths:
        draw_in_words(growth)
    if given.json is not None:
        given.json.write_text(json.dumps(as_data(found, rows), indent=2) + "\n", encoding="utf-8")
    if given.picture is not None:
        from tests.bench.picture import draw

        draw(found.growths, given.picture)
    missed = [figure.name for figure in found.figures if figure.met is False]
    say("not reached: " + ("; ".join(missed) or "none") + "\n")
    return 1 if missed else 0


def arguments() -> argparse.Namespace:
    """The command line."""
    read = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    read.add_argument("--only", nargs="+", choices=ALL, metavar="NAME", help=f"of {', '.join(ALL)}")
    read.add_argument("--minutes", nargs="+", type=int, default=MINUTES, help="lengths of films that grow")
    read.add_argument("--json", type=Path, metavar="FILE", help="write all figures as JSON")
    read.add_argument("--picture", type=Path, metavar="FILE", help="draw how times grow (needs matplotlib)")
    read.add_argument(
        "--keep",
        type=Path,
        metavar="FOLDER",
        help="keep what is measured there, and do not measure again what is: to stop and go on",
    )
    return read.parse_args()


@contextmanager
def keeping(folder: Path | None) -> Iterator[Path]:
    """A folder for what each stage found: the one that was named, or one that is gone afterwards."""
    if folder is None:
        with tempfile.TemporaryDirectory() as made:
            yield Path(made)
    else:
        folder.mkdir(parents=True, exist_ok=True)
        yield folder


Stage = Callable[[Path], Found]


def stages(names: Sequence[str], minutes: Sequence[int]) -> Iterator[tuple[str, Stage]]:
    """What is to be measured, by name; films that grow are measured one length after the other."""
    for name in names:
        if name in ONCE:
            yield name, ONCE[name]
        elif name in BY_LENGTH:
            for length in minutes:
                yield (
                    f"{name}-{length}",
                    lambda place, name=name, length=length: BY_LENGTH[name](place, length),
                )
        else:
            yield name, lambda place, name=name: tested(name, place)


def once(stage: str, measure: Stage, kept: Path) -> dict[str, Any]:
    """What a stage found, now or earlier."""
    if kept.exists():
        say(f"{stage} (kept)\n")
        row: dict[str, Any] = json.loads(kept.read_text(encoding="utf-8"))
        return row
    say(f"{stage}\n")
    sys.stdout.flush()
    began, load = time.monotonic(), _load()
    place = Path(tempfile.mkdtemp(prefix="bench-"))
    try:
        found = measure(place)
    finally:
        shutil.rmtree(place, ignore_errors=True)
    for figure in found.figures:
        tell(figure)
    sys.stdout.flush()
    row = {"stage": stage, "seconds": round(time.monotonic() - began, 1), "load": [load, _load()]}
    row["found"] = found.as_data()
    kept.write_text(json.dumps(row, indent=1) + "\n", encoding="utf-8")
    return row


def _load() -> float | None:
    return round(os.getloadavg()[0], 2) if hasattr(os, "getloadavg") else None


def tested(name: str, place: Path) -> Found:
    """A file of tests run by itself: the figures it tells, and how many of its tests hold."""
    command = [sys.executable, "-m", "pytest", "-q", "-s", "-p", "no:cacheprovider"]
    command += [*map(str, map(ROOT.joinpath, TESTS[name])), f"--junitxml={place / 'tests.xml'}"]
    environment = noting(place / "figures")
    done = subprocess.run(
        command, check=False, capture_output=True, text=True, cwd=ROOT, env=environment, timeout=7200
    )
    say(done.stdout)
    count = ElementTree.parse(place / "tests.xml").getroot().find("testsuite")  # noqa: S314 - written just now
    total, bad, skipped = (
        sum(int(count.get(one, "0")) for one in kinds) if count is not None else 0
        for kinds in (("tests",), ("failures", "errors"), ("skipped",))
    )
    holds = done.returncode == 0 and total > 0 and not skipped
    told = Figure(f"{name}: tests that hold", [total - bad - skipped], f"of {total}", "all", holds)
    return Found([*notes_in(place / "figures"), told])


def growing(growths: Sequence[Growth]) -> list[Figure]:
    """How what may not grow faster than the film does so."""
    return [
        Figure(
            f"{one.name} grows as the length to the power", [grown], "", f"<= {one.power}", grown <= one.power
        )
        for one in growths
        if one.power is not None and (grown := one.grown()) is not None
    ]


def tell(figure: Figure) -> None:
    """A figure as a line."""
    verdict = "" if figure.met is None else "  reached" if figure.met else "  NOT REACHED"
    say(f"  {figure.name}: {figure.told}, asked {figure.asked}{verdict}\n")


def draw_in_words(growth: Growth) -> None:
    """A growth as a line, with its floor behind each value."""
    parts = []
    for length, values in sorted(growth.values.items()):
        floor = growth.floors.get(length)
        beside = f" ({min(values) / min(floor):.2f} x its floor)" if floor else ""
        parts.append(f"{length} min {min(values):.3g} {growth.unit}{beside}")
    grown = growth.grown()
    power = "" if grown is None else f"; grows as n^{grown:.2f}"
    say(f"  {growth.name}: {', '.join(parts)}{power}\n")


def as_data(found: Found, rows: Sequence[dict[str, Any]]) -> dict[str, object]:
    """All of it as plain data, with the machine it was measured on."""
    return {
        "version": 2,
        "machine": {
            "system": platform.platform(),
            "processors": os.cpu_count(),
            "python": platform.python_version(),
        },
        **found.as_data(),
        "stages": [{name: row[name] for name in ("stage", "seconds", "load")} for row in rows],
    }


if __name__ == "__main__":
    sys.exit(main())
