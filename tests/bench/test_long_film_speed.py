"""The whole pass on films of ever more short clips: the work must not grow faster than the film.

Run by name only: nice -n 10 pytest tests/bench/test_long_film_speed.py -s. Only a few joins are listened to,
and speech is said to fill its clips: listening is linear by its nature, and would hide what grows.
"""

from __future__ import annotations

import gc
import random
import sys
import time
from dataclasses import replace
from itertools import pairwise
from math import log
from pathlib import Path
from typing import Any

import pytest

from mltassist import findings
from mltassist.api import rough
from mltassist.demofilm.film import Film, Lane, Placement
from mltassist.demofilm.scenario import INTERVIEW_FILES, film, recording_length
from mltassist.frames import Span, joined
from mltassist.joins import hear
from mltassist.project import open_project
from mltassist.timeline.cuts import SpeechEdit
from tests.cli.films import write

CLIPS = (250, 500, 1000, 2000)
GROWTH = 1.2
"""The power of the number of clips with which the time may grow, over all of the range."""
NOISE = 0.1
TALK = INTERVIEW_FILES["ines"]
HEARD = 24
"""Joins of one recording that are really listened to; each of the others sounds like one of them."""


def bites(clips: int, lengths: tuple[int, int] = (20, 60)) -> Film:
    """Bites of one speaker from all over the recording, every fifth under a cutaway of the editor's."""
    made, choose = film(), random.Random(clips)
    rest = [rush for rush in made.rushes if rush.folder.startswith("Cutaways")]
    talk, over, at = [], [], 0
    for number in range(clips):
        length = choose.randrange(*lengths)
        if number % 5 == 4:
            shown = min(length, 90)
            over.append(Placement(choose.choice(rest).file, at, choose.randrange(120), shown))
        talk.append(Placement(TALK, at, choose.randrange(20, recording_length("ines") - length - 20), length))
        at += length
    lanes = (Lane("Interview", True, True, tuple(talk)), Lane("Cutaways", True, False, tuple(over)))
    return replace(made, lanes=lanes, marks=())


@pytest.fixture
def few_are_heard(monkeypatch: pytest.MonkeyPatch) -> None:
    listen = hear.Sides
    known: dict[tuple[str, str, int], hear.Sides] = {}

    def sides(there: findings.Findings, edit: SpeechEdit, *more: Any) -> hear.Sides:
        key = edit.before.source.key, edit.after.source.key, edit.at % HEARD
        if key not in known:
            known[key] = listen(there, edit, *more)
        return known[key]

    def speech(clips: Any, *_: object, **__: object) -> tuple[Span, ...]:
        return joined(clip.span.grown(-2, -2) for _, clip in clips)

    monkeypatch.setattr(hear, "Sides", sides)
    monkeypatch.setattr(findings, "speech_on_timeline", speech)


def taken(clips: int, folder: Path) -> float:
    """Seconds of the processor for planning, carrying out and saving the pass."""
    folder.mkdir()
    path = write(bites(clips), folder)
    gc.collect()
    began = time.process_time()
    project = open_project(path)
    rough(project, no_look=True).apply(project).save(folder / "new.kdenlive")
    return time.process_time() - began


@pytest.mark.usefixtures("few_are_heard")
def test_the_pass_grows_with_the_film(tmp_path: Path):
    times = {clips: taken(clips, tmp_path / str(clips)) for clips in CLIPS}
    for (few, before), (many, after) in pairwise(times.items()):
        power = log(after / before) / log(many / few)
        sys.stdout.write(f"{few} to {many} clips: {before:.1f} s to {after:.1f} s, power {power:.2f}\n")
    few, many = CLIPS[0], CLIPS[-1]
    assert log(times[many] / times[few]) / log(many / few) <= GROWTH + NOISE
