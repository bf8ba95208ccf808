"""What `python -m tests.bench` measures: each figure beside its floor in the same run, several times."""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from math import log
from pathlib import Path
from statistics import median

from lxml import etree

import mltassist
from mltassist.cutaways.planner.plan import plan_cover
from tests.bench import test_cover_plans as covers
from tests.bench import test_document_speed as documents
from tests.bench.test_long_film_speed import bites
from tests.bench.watching import Watched, watched
from tests.cli.films import DOCUMENTS, EXAMPLE, short, write
from tests.hosts.films import LAYOUTS, write_case

CLIPS_A_MINUTE = 40
"""10,000 clips are a long film cut quickly: 250 minutes at so many."""
TIMES = 5
say = sys.stdout.write


@dataclass
class Figure:
    """One figure: what was measured several times, beside what is asked. met: None where nothing is asked."""

    name: str
    values: list[float]
    unit: str
    asked: str
    met: bool | None

    @property
    def told(self) -> str:
        """The median with its spread."""
        low, middle, high = min(self.values), median(self.values), max(self.values)
        spread = "" if len(self.values) == 1 else f"  ({low:.3g} to {high:.3g}, {len(self.values)} times)"
        return f"{middle:.3g} {self.unit}{spread}"


@dataclass
class Growth:
    """How long something takes by minutes of film, in seconds."""

    name: str
    seconds: dict[int, float]

    @property
    def power(self) -> float:
        """The power of the length with which it grows, from the shortest film to the longest."""
        (few, before), *_, (many, after) = sorted(self.seconds.items())
        return log(after / before) / log(many / few)


@dataclass
class Found:
    """What one measure found."""

    figures: list[Figure] = field(default_factory=list)
    growths: list[Growth] = field(default_factory=list)


Measure = Callable[[Path, Sequence[int]], Found]


def unchanged(folder: Path, _: Sequence[int]) -> Found:
    """Opened and saved, nothing done: the same canonical XML."""
    same = []
    (folder / "media").symlink_to(EXAMPLE / "media")
    for name in DOCUMENTS:
        path = Path(shutil.copy(EXAMPLE / name, folder))
        copy = mltassist.open(path).save(path.with_name(f"copy-{name}"))
        before, after = (etree.tostring(etree.parse(str(one)), method="c14n") for one in (path, copy))
        same.append(float(before == after))
    figure = Figure("opened and saved: canonical XML the same", same, "of each document", "1", all(same))
    return Found([figure])


def opened(folder: Path, minutes: Sequence[int]) -> Found:
    """Opening, reading and saving beside bare parsing and writing; and how it grows."""
    found = Found()
    for layout in LAYOUTS:
        path = write_case(layout, documents.long_film(10_000), folder).path
        ratios = documents.ratios(path, 10_000, TIMES)
        name = f"open, read and save 10,000 clips, {layout}"
        asked = f"<= {documents.TARGET}"
        found.figures.append(Figure(name, ratios, "x bare XML", asked, median(ratios) <= documents.TARGET))
    seconds = {}
    for length in minutes:
        path = write_case("kdenlive", documents.long_film(length * CLIPS_A_MINUTE), folder).path

        def whole(path: Path = path) -> None:
            project = mltassist.open(path)
            assert project.timeline.length > 0
            project.save(path.with_name("copy.kdenlive"), force=True)

        seconds[length] = min(documents.taken(whole) for _ in range(3))
    found.growths.append(Growth("open, read and save", seconds))
    return found


def planned(_: Path, minutes: Sequence[int]) -> Found:
    """Cover plans of long films with a bin that grows with them: 400 jump cuts and 2,000 moments an hour."""
    seconds, gaps = {}, []
    for length in minutes:
        task = covers.film(length, 1, cuts_a_minute=400 / 60, moments=2000 * length // 60)
        began = time.process_time()  # it plans in one thread
        gaps.append(plan_cover(task, covers.RULES).gap)
        seconds[length] = time.process_time() - began
    growth = Growth("cover plan", seconds)
    figures = [
        Figure("gap of cover plans", gaps, "of the cost", "<= 0.01 from 30 minutes on", gaps[-1] <= 0.01)
    ]
    if 60 in seconds:
        figures.append(Figure("cover plan of 60 minutes", [seconds[60]], "s", "<= 10", seconds[60] <= 10))
    return Found(figures, [growth])


def twice(folder: Path, _: Sequence[int]) -> Found:
    """The whole pass on the example film with an empty cache, again, and with another separation."""
    again, other = [], []
    for number in range(3):
        cache = folder / f"cache-{number}"
        first, same = (_rough(folder, cache) for _ in range(2))
        again.append(same / first)
        other.append(_rough(folder, cache, "--separation", "18") / first)
    return Found(
        [
            Figure("second run, nothing changed", again, "x the first", "<= 0.1", median(again) <= 0.1),
            Figure("another run that has to plan anew", other, "x the first", "nothing", None),
        ]
    )


def _rough(folder: Path, cache: Path, *more: str) -> float:
    command = [sys.executable, "-m", "mltassist", "rough", str(EXAMPLE / "saltreed.mlt"), "--dry-run", *more]
    return watched(command, {**os.environ, "MLTASSIST_CACHE": str(cache)}, folder).cpu_s


FILMS = 24


def side_by_side(folder: Path, _: Sequence[int]) -> Found:
    """A season of films with media of their own, each time with an empty cache.

    On one worker and one core, and on two.
    """
    series = folder / "series"
    for number in range(FILMS):
        own = series / f"ep{number:02}"
        own.mkdir(parents=True)
        shutil.copytree(EXAMPLE / "media", own / "media", copy_function=os.link)
        write(short(700), own, "plain.mlt")
    by_clock, by_work, twice_done, most_mib = [], [], 0, 0.0
    for number in range(3):
        one, two = (_batch(folder, series, jobs, number) for jobs in (1, 2))
        say(
            f"  one core {one.wall_s:.1f} s ({one.cpu_s:.1f} of it), two {two.wall_s:.1f} ({two.cpu_s:.1f})\n"
        )
        by_clock.append(one.wall_s / two.wall_s)
        by_work.append(one.critical_s / two.critical_s)
        most_mib = max(most_mib, *one.most_mib.values(), *two.most_mib.values())
        for jobs in (1, 2):
            twice_done += _written_twice(folder / f"cache-of-{jobs}-{number}")
    asked = "x as fast as on one"
    return Found(
        [
            Figure(
                f"{FILMS} films on two workers and two cores",
                by_clock,
                asked,
                ">= 1.85",
                median(by_clock) >= 1.85,
            ),
            Figure(
                "the same by processor time of the busier worker",
                by_work,
                asked,
                ">= 1.85",
                median(by_work) >= 1.85,
            ),
            Figure("analyses made twice", [twice_done], "of all", "0", twice_done == 0),
            Figure("memory of a worker", [most_mib], "MiB", "<= 1229", most_mib <= 1229),
        ]
    )


def _batch(folder: Path, series: Path, jobs: int, number: int) -> Watched:
    out, cache = folder / f"out-{jobs}-{number}", folder / f"cache-of-{jobs}-{number}"
    command = [sys.executable, "-m", "mltassist", "batch", str(series), "--out", str(out), "--no-look"]
    own = {**os.environ, "MLTASSIST_CACHE": str(cache)}
    found = watched([*command, "--jobs", str(jobs)], own, folder, cores=jobs)
    assert len(list(out.rglob("*-rough.mlt"))) == FILMS
    shutil.rmtree(out)
    return found


def _written_twice(cache: Path) -> int:
    """How many more results were written into a folder of analyses than there are: it counts every write."""
    counted = (cache / "written.analysis-count").read_bytes()
    seen = int.from_bytes(
        counted[8:16]
    )  # what it held when it was last looked through; since then each write
    return seen + len(counted) // 8 - 2 - len(list(cache.glob("*.analysis")))


CUTS_A_MINUTE = Fraction(400, 60)
BITE = (25, 425)
"""Shortest and longest bite, so that a minute has so many cuts."""


def hour(folder: Path, minutes: Sequence[int]) -> Found:
    """What a worker takes for films of 400 jump cuts an hour, from nothing: seconds, memory, how it grows."""
    seconds, most = dict[int, float](), dict[int, float]()
    for length in minutes:
        own = folder / str(length)
        own.mkdir()
        path = write(bites(round(length * CUTS_A_MINUTE), BITE), own, "host.kdenlive")
        command = [sys.executable, "-m", "mltassist", "batch", str(path), "--out", str(own / "out")]
        more = ["--no-look", "--jobs", "1"]
        found = watched([*command, *more], {**os.environ, "MLTASSIST_CACHE": str(own / "cache")}, own)
        assert list((own / "out").glob("*-rough.kdenlive"))
        seconds[length], most[length] = found.cpu_s, max(found.most_mib.values())
        say(f"  {length} min: {seconds[length]:.0f} s of the processor, {most[length]:.0f} MiB\n")
    up_to_an_hour = [mib for length, mib in most.items() if length <= 60] or [*most.values()]
    asked = max(up_to_an_hour)
    return Found(
        [Figure("memory of a worker, up to an hour's film", [asked], "MiB", "<= 1229", asked <= 1229)],
        [Growth("whole pass", seconds)],
    )


MEASURES: dict[str, Measure] = {
    "unchanged": unchanged,
    "opened": opened,
    "planned": planned,
    "twice": twice,
    "side-by-side": side_by_side,
    "hour": hour,
}
TESTS = {
    "sound": "test_analysis_speed.py",
    "mix": "test_mix_speed.py",
    "pass": "test_long_film_speed.py",
    "cache": "test_cache_speed.py",
    "joins": "test_join_audit.py",
    "mending": "test_join_mending.py",
    "elements": "test_evidence.py",
    "words": "test_words.py",
    "plans": "test_cover_plans.py",
    "documents": "test_damaged_documents.py",
    "media": "test_damaged_media.py",
    "kills": "test_kills.py",
    "attacks": "test_attacks.py",
    "trust": "test_trust_of_all.py",
    "season": "test_season_of_twelve.py",
    "scale": "test_season_scale.py",
    "cluster": "test_cluster.py",
}
"""Benchmarks that are files of tests: they say their figures, and hold them to what is asked."""


def powers(growth: Growth) -> list[tuple[int, int, float]]:
    """From each length to the next: the power with which the time grows."""
    rows = sorted(growth.seconds.items())
    return [(a, b, log(later / before) / log(b / a)) for (a, before), (b, later) in pairwise(rows)]
