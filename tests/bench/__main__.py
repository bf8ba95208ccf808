"""Every figure that is asked for beside its floor in the same run: ``python -m tests.bench``."""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
from dataclasses import asdict
from pathlib import Path

from tests.bench.measures import MEASURES, TESTS, Found, Growth, powers

HERE = Path(__file__).parent
MINUTES = (10, 30, 60, 120, 240)
say = sys.stdout.write


def main() -> int:
    """Measure what is asked for, tell it, and write it where wanted; 1 where a figure is not reached."""
    given = arguments()
    names = given.only or [*MEASURES, *TESTS]
    found, tested = Found(), dict[str, tuple[bool, str]]()
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            say(f"{name}\n")
            if name in MEASURES:
                place = Path(folder) / name
                place.mkdir()
                one = MEASURES[name](place, given.minutes)
                tell(one)
                found.figures += one.figures
                found.growths += one.growths
            else:
                tested[name] = run(TESTS[name])
                say(tested[name][1])
    if given.json is not None:
        given.json.write_text(json.dumps(as_data(found, tested), indent=2) + "\n", encoding="utf-8")
    if given.picture is not None:
        draw(found.growths, given.picture)
    missed = [one.name for one in found.figures if one.met is False]
    missed += [name for name, (passed, _) in tested.items() if not passed]
    say("not reached: " + (", ".join(missed) or "none") + "\n")
    return 1 if missed else 0


def arguments() -> argparse.Namespace:
    """The command line."""
    read = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    read.add_argument("--only", nargs="+", choices=[*MEASURES, *TESTS], help="measure these alone")
    read.add_argument("--minutes", nargs="+", type=int, default=MINUTES, help="lengths of films that grow")
    read.add_argument("--json", type=Path, metavar="FILE", help="write all figures as JSON")
    read.add_argument("--picture", type=Path, metavar="FILE", help="draw how times grow (needs matplotlib)")
    return read.parse_args()


def tell(found: Found) -> None:
    """Figures and growths as lines."""
    for one in found.figures:
        verdict = "" if one.met is None else "  reached" if one.met else "  NOT REACHED"
        say(f"  {one.name}: {one.told}, asked {one.asked}{verdict}\n")
    for growth in found.growths:
        told = ", ".join(f"{m} min {s:.2f} s" for m, s in sorted(growth.seconds.items()))
        say(f"  {growth.name}: {told}")
        say(f"; grows as n^{growth.power:.2f}\n" if len(growth.seconds) > 1 else "\n")


def run(file: str) -> tuple[bool, str]:
    """A file of tests run by itself: whether it passed, and what it told."""
    command = [sys.executable, "-m", "pytest", "-q", "-s", "-p", "no:cacheprovider", str(HERE / file)]
    done = subprocess.run(command, check=False, capture_output=True, text=True, cwd=HERE.parents[1])
    return done.returncode == 0, done.stdout


def as_data(found: Found, tested: dict[str, tuple[bool, str]]) -> dict[str, object]:
    """All of it as plain data, with the machine it was measured on."""
    return {
        "version": 1,
        "machine": {
            "system": platform.platform(),
            "processors": os.cpu_count(),
            "python": platform.python_version(),
            "load": os.getloadavg() if hasattr(os, "getloadavg") else None,
        },
        "figures": [asdict(one) for one in found.figures],
        "growths": [{**asdict(one), "powers": powers(one)} for one in found.growths],
        "tests": {name: {"passed": passed, "told": told} for name, (passed, told) in tested.items()},
    }


def draw(growths: list[Growth], target: Path) -> None:
    """Times by length of film, both in powers, beside a line that grows with the film."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(7, 4.5))
    for growth in growths:
        lengths = sorted(growth.seconds)
        axes.plot(lengths, [growth.seconds[m] for m in lengths], marker="o", label=growth.name)
        first = lengths[0]
        axes.plot(lengths, [growth.seconds[first] * m / first for m in lengths], color="grey", linestyle=":")
    axes.set(xscale="log", yscale="log", xlabel="minutes of film", ylabel="seconds")
    axes.legend()
    axes.grid(which="both", alpha=0.3)
    figure.tight_layout()
    figure.savefig(target)


if __name__ == "__main__":
    sys.exit(main())
