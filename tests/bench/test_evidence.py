"""Films that name nothing, made of labelled rushes: how often the evidence is right, how sure, at what cost.

The held-out half sets no weight and no limit. Its figures stand in docs/how-it-decides.md; run by name:
python -m pytest tests/bench/test_evidence.py -s
"""

from __future__ import annotations

import resource
import sys
import time
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import mltassist
from mltassist.media.sound.speech import default_detector
from mltassist.recipe.rules import GuessRules
from mltassist.rushes.evidence_weights import NONE
from mltassist.rushes.gathering import gather_evidence
from mltassist.timeline.model import BinClip, Source, SourceKind
from tests.bench.figures import noted
from tests.rushes.labelled import films, pool
from tests.rushes.labelled.pool import HELD_OUT, TUNING
from tests.timeline.films import timeline

FILMS = 28


@dataclass(frozen=True)
class Judged:
    """One clip of one film: the recording behind it, what it is, what it was taken for, and how surely."""

    recording: str
    truth: str
    taken: str
    chance: float

    @property
    def right(self) -> bool:
        return self.truth == self.taken


@pytest.fixture(scope="module", params=[TUNING, HELD_OUT])
def judged(request, tmp_path_factory) -> tuple[str, list[Judged]]:
    rows = []
    detector = default_detector()
    for seed in range(FILMS):
        made = films.arranged(request.param, seed)
        for layout in films.LAYOUTS:
            folder = tmp_path_factory.mktemp(f"film-{seed}")
            film = mltassist.open(films.write(made, folder, layout)).timeline
            found = gather_evidence(film, [clip.source.key for clip in film.bin], detector)
            assert len(found) == len(made.truth)
            for key, one in found.items():
                file = str(Path(key).relative_to(folder))
                truth = made.truth[file] or NONE
                rows.append(Judged(made.rush[file].name, truth, str(one.weighed.outcome), one.weighed.chance))
    return request.param, rows


def test_elements_are_right_and_chances_mean_what_they_say(judged) -> None:
    half, rows = judged
    limits = GuessRules()
    sure = [row for row in rows if row.chance >= limits.sure]
    wrong = Counter((row.recording, row.truth, row.taken) for row in rows if not row.right)
    told = [f"{half}: {len(rows)} clips of {len({row.recording for row in rows})} recordings"]
    told.append(f"right: {np.mean([row.right for row in rows]):.4f}")
    told.append(f"sure: {len(sure) / len(rows):.3f}, of them right: {np.mean([r.right for r in sure]):.4f}")
    edges = (0, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.01)
    for low, high in pairwise(edges):
        inside = [row for row in rows if low <= row.chance < high]
        if inside:
            mean, right = np.mean([r.chance for r in inside]), np.mean([r.right for r in inside])
            told.append(f"told {mean:.3f} ({len(inside)} clips): right {right:.3f}")
    told.append("confusion (truth, taken for, clips):")
    told += [
        f"  {truth:14} {taken:14} {count}"
        for (truth, taken), count in sorted(Counter((r.truth, r.taken) for r in rows).items())
    ]
    told += [
        f"  wrong: {name} ({truth}) as {taken}: {count}" for (name, truth, taken), count in wrong.items()
    ]
    sys.stdout.write("\n".join(told) + "\n")
    right, right_of_sure = (float(np.mean([row.right for row in some])) for some in (rows, sure))
    noted(f"elements without names, {half}", [right], "right", ">= 0.95", right >= 0.95)
    noted(f"of those told as sure, {half}", [right_of_sure], "right", ">= 0.98", right_of_sure >= 0.98)
    assert np.mean([row.right for row in rows]) >= 0.95
    assert np.mean([row.right for row in sure]) >= 0.98
    for low, high in ((0.7, 0.9), (0.9, 1.01)):  # no less right than told, as far as so many clips can tell
        inside = [row for row in rows if low <= row.chance < high]
        if len(inside) >= 50:
            spread = 2 * (0.1 / len(inside)) ** 0.5
            assert np.mean([r.right for r in inside]) >= np.mean([r.chance for r in inside]) - 0.02 - spread


def test_evidence_costs_little_and_memory_stays_flat(monkeypatch, tmp_path) -> None:
    """All recordings of both halves once, nothing remembered; then one recording of an hour."""
    monkeypatch.setenv("MLTASSIST_CACHE", "off")
    clips = []
    for rush in pool.rushes():
        path = pool.write(rush)
        kind = SourceKind.IMAGE if rush.still else SourceKind.FILE
        seen = rush.picture is not None or rush.still is not None
        source = Source(str(path), kind, path, int(rush.length_s * 25), seen, rush.sound is not None)
        clips.append(BinClip(path.name, path.name, source))
    detector = default_detector()
    seconds = sum(clip.source.length for clip in clips) / 25
    began = time.process_time()
    gather_evidence(timeline(bin_clips=clips), [clip.source.key for clip in clips], detector)
    short = (time.process_time() - began) / seconds
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    hour = tmp_path / "hour.wav"
    _write_hour(hour)
    source = Source(str(hour), SourceKind.FILE, hour, 3600 * 25, False, True)
    began = time.process_time()
    gather_evidence(timeline(bin_clips=[BinClip("hour", "hour", source)]), [str(hour)], detector)
    long = (time.process_time() - began) / 3600
    grown_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    sys.stdout.write(
        f"{len(clips)} recordings of {seconds:.0f} s: {short:.2%} of their playing time;"
        f" an hour: {long:.3%}, memory grown by {grown_mb:.0f} MB\n"
    )
    assert short <= 0.03
    assert long <= 0.003
    assert grown_mb < 100


def _write_hour(path: Path) -> None:
    import soundfile

    with soundfile.SoundFile(str(path), "w", 48000, 1, subtype="PCM_16") as file:
        minute = pool.answers("tale", 60, 5)
        for _ in range(60):
            file.write(minute)
