"""What `python -m tests.bench` measures itself, each figure beside its floor in the same run."""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from lxml import etree

import mltassist
from mltassist.cutaways.planner.plan import plan_cover
from tests.bench import test_analysis_speed as sounds
from tests.bench import test_cover_plans as covers
from tests.bench import test_document_speed as documents
from tests.bench import test_mix_speed as mixes
from tests.bench.figures import Figure, Found, Growth
from tests.bench.seasons import a_film, side_by_side
from tests.bench.watching import watched
from tests.cli.films import DOCUMENTS, EXAMPLE
from tests.hosts.films import LAYOUTS, write_case

CLIPS_A_MINUTE = 40
"""10,000 clips are a long film cut quickly: 250 minutes at so many."""
TIMES = 5
GROWTH = 1.2
"""The power of the length with which a cover plan may take longer."""
MOST_MIB = 300


def unchanged(folder: Path) -> Found:
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


def opened(folder: Path) -> Found:
    """Opening, reading and saving beside bare parsing and writing."""
    found = Found()
    for layout in LAYOUTS:
        path = write_case(layout, documents.long_film(10_000), folder).path
        ratios = documents.ratios(path, 10_000, TIMES)
        name = f"open, read and save 10,000 clips, {layout}"
        asked = f"<= {documents.TARGET}"
        found.figures.append(Figure(name, ratios, "x bare XML", asked, median(ratios) <= documents.TARGET))
    return found


def document(folder: Path, minutes: int) -> Found:
    """The same for a film of so many minutes, cut quickly."""
    path = write_case("kdenlive", documents.long_film(minutes * CLIPS_A_MINUTE), folder).path
    copy = path.with_name("copy.kdenlive")

    def bare() -> object:
        tree = etree.parse(str(path))
        tree.write(str(copy), encoding="utf-8", xml_declaration=True)
        return tree

    def whole() -> object:
        project = mltassist.open(path)
        assert project.timeline.length > 0
        project.save(copy, force=True)
        return project

    rows = [(documents.taken(whole), documents.taken(bare)) for _ in range(TIMES)]
    values, floors = ([row[side] for row in rows] for side in (0, 1))
    return Found([], [Growth("open, read and save", "s", {minutes: values}, {minutes: floors}, GROWTH)])


def cover(_: Path, minutes: int) -> Found:
    """A cover plan with a bin that grows with the film: 400 jump cuts and 2,000 moments an hour."""
    seconds, gaps = [], []
    for seed in (1, 2) if minutes <= 60 else (1,):
        task = covers.film(minutes, seed, cuts_a_minute=400 / 60, moments=2000 * minutes // 60)
        began = time.process_time()  # it plans in one thread
        gaps.append(plan_cover(task, covers.RULES).gap)
        seconds.append(time.process_time() - began)
    # Few clips for a short film are wanted by more shots than the prices on them can tell.
    gap, asked = (max(gaps) <= 0.01, "<= 0.01") if minutes >= 60 else (None, "nothing")
    figures = [Figure(f"gap of the cover plan of {minutes} minutes", gaps, "of the cost", asked, gap)]
    if minutes == 60:
        within = median(seconds) <= 10
        figures.append(Figure("cover plan of 60 minutes", seconds, "s", "<= 10", within))
    return Found(figures, [Growth("cover plan", "s", {minutes: seconds}, power=GROWTH)])


def twice(folder: Path) -> Found:
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


def sound(folder: Path, minutes: int) -> Found:
    """Levels, speech and loudness of a recording, beside decoding it once and the speech model alone."""
    path = sounds.repeated(sounds.recording(folder / "ten.m4a", 600), folder / "long.m4a", minutes * 60)
    floors, values, peaks, over, work = [], [], [], [], []
    for number in range(3 if minutes <= 60 else 1):
        decoding, model = sounds.decoding(path), sounds.model(minutes * 60)
        floors.append(decoding[1] + model[1])
        cache = str(folder / f"cache-{number}")
        took, used, found, peak_mb = sounds.analysed(path, minutes * 60, "loudness", cache)
        assert found > minutes
        values.append(used)
        peaks.append(peak_mb)
        over.append((took - model[0]) / decoding[0])
        work.append((used - model[1]) / decoding[1])
    flat, name = max(peaks) <= MOST_MIB, f"analysis of {minutes} minutes less the speech model"
    return Found(
        [
            Figure(name, over, "x decoding them", "<= 3", median(over) <= 3),
            Figure(f"{name}, by work", work, "x decoding them", "nothing", None),
            Figure(f"memory of the analysis of {minutes} minutes", peaks, "MiB", f"< {MOST_MIB}", flat),
        ],
        [
            Growth("analysis of sound", "s", {minutes: values}, {minutes: floors}, GROWTH),
            Growth("analysis of sound", "MiB", {minutes: peaks}),
        ],
    )


def mix(folder: Path, minutes: int) -> Found:
    """Judging the mix of eight tracks beside rendering its sound with the engine."""
    path = mixes.film(folder, minutes, "flac")
    values, peaks, faster = [], [], []
    floors = [slice_s * minutes / mixes.SLICE_MIN for slice_s in mixes.rendered_s(path)]
    for _ in range(3 if minutes <= 60 else 1):
        took, used, peak_mb, *_ = mixes.judged(path)
        values.append(used)
        peaks.append(peak_mb)
        faster.append(floors[0] / took)
    floor = floors[1]
    name, ratio = f"judging the mix of {minutes} minutes", [floor / value for value in values]
    # All that it plays is read once, for a short film as for a long one: an hour is asked for.
    met, asked = (median(faster) >= 10, ">= 10") if minutes >= 60 else (None, "nothing")
    return Found(
        [
            Figure(name, faster, "x as fast as rendering it", asked, met),
            Figure(name, ratio, "x less work than rendering it", "nothing", None),
        ],
        [
            Growth("judging the mix", "s", {minutes: values}, {minutes: [floor]}, GROWTH),
            Growth("judging the mix", "MiB", {minutes: peaks}),
        ],
    )


ONCE: dict[str, Callable[[Path], Found]] = {
    "unchanged": unchanged,
    "opened": opened,
    "twice": twice,
    "side-by-side": side_by_side,
}
BY_LENGTH: dict[str, Callable[[Path, int], Found]] = {
    "document": document,
    "cover": cover,
    "sound": sound,
    "mix": mix,
    "film": a_film,
}
