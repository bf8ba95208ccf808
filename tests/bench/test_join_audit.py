"""How well edits with a known answer are told apart, with many of them, in every voice.

Run by name only: pytest tests/bench/test_join_audit.py -s -k tuning (or held, seen, actors, games, blind).
Prints the area under the curve with its bootstrap interval, false alarms in each voice, the share of each
fault that is found and by which reasons, and the same without each of the things that the ear does
(ablation). The limits were set on the first parts, which were chosen by leaving each voice out in turn; the
blind part was named before and judged once, after them, as "seen", "actors" and "games" were before it.
"""

from __future__ import annotations

import os
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import astuple, dataclass, replace

import numpy as np
import pytest
from scipy.signal import butter, sosfiltfilt

from mltassist.joins import clicks, rooms
from mltassist.joins import measures as joins
from mltassist.joins import speaker as speakers
from mltassist.joins.planner.judge import Habits, Judgement, Measures, judge
from mltassist.joins.speaker import Speaker, likeness, speaker
from mltassist.media.sound.speech import RATE_HZ
from mltassist.recipe.rules import ListenRules
from tests.bench.figures import noted
from tests.joins.test_measures import area_under_curve
from tests.joins.truth import (
    BETWEEN,
    CLICKS,
    KINDS,
    STEPS_DB,
    Edit,
    Recording,
    click_of,
    edit,
    halved,
    recordings,
)
from tests.joins.voices import Half, Voice, voices

EACH = int(os.environ.get("MLTASSIST_BENCH_EACH", "10"))
LEAST_STEP_DB = 2
"""Smaller steps than this are told, but are no fault that everybody hears: 0.5 to 1.5 dB are just noticed."""


@dataclass
class Row:
    """One edit, where it was made, and how it is judged as things are and without each of them."""

    voice: str
    files: str
    kind: str
    amount: float
    judged: dict[str, Judgement]


@contextmanager
def figures(changed: dict[str, object]) -> Iterator[None]:
    """The measures with other constants or functions, each named "module.NAME"."""
    places = {name: name.rpartition(".")[::2] for name in changed}
    kept = {name: getattr(MODULES[module], last) for name, (module, last) in places.items()}
    for name, (module, last) in places.items():
        setattr(MODULES[module], last, changed[name])
    try:
        yield
    finally:
        for name, (module, last) in places.items():
            setattr(MODULES[module], last, kept[name])


def old_click(found: Measures) -> Measures:
    """Clicks only where something sounds."""
    return found if max(found.cut_before, found.cut_after) >= 0.1 else replace(found, click_db=0.0)


def by_level(left: rooms.Room, right: rooms.Room, floor_db: float) -> tuple[float, float]:
    """Rooms compared by their whole level and all their bands."""
    bands = [np.maximum(floor_db - 14.0, one[1]) for one in (left, right)]
    return max(floor_db, right[0]) - max(floor_db, left[0]), float(np.std(bands[1] - bands[0]))


def all_by_bands(left: np.ndarray, right: np.ndarray, floor_db: float) -> tuple[np.ndarray, np.ndarray]:
    """The same for many, which have no other level than that of their bands."""
    levels = [np.maximum(floor_db, 10 * np.log10((10 ** (one / 10)).sum(axis=-1))) for one in (left, right)]
    bands = [np.maximum(floor_db - 14.0, one) for one in (left, right)]
    return levels[1] - levels[0], np.std(bands[1] - bands[0], axis=-1)


MODULES = {"measures": joins, "rooms": rooms, "clicks": clicks, "speakers": speakers}
RULES = ListenRules()
Ablation = tuple[dict[str, object], Callable[[Measures], Measures], ListenRules, bool]
WITHOUT: dict[str, Ablation] = {
    "as it is": ({}, lambda m: m, RULES, True),
    "clicks in pauses": ({}, old_click, RULES, True),
    "clicks over the room": (
        {"clicks.ROOM_DB": -99.0}, lambda m: m, replace(RULES, click_limit_db=6.5), True,
    ),
    "clicks that die away": ({"clicks.ORDINARY": 1e6}, lambda m: m, RULES, True),
    "two files compared": ({}, lambda m: m, RULES, False),
    "how much their voices vary": (
        {"speakers.ONE": 0.16, "speakers.TWO": 0.27, "speakers.varied": lambda *_: 0.0},
        lambda m: m, RULES, True,
    ),
    "voices that have to be near": ({"speakers.TWO": 0.3}, lambda m: m, RULES, True),
    "rooms by most of their bands": (
        {"measures.compare_rooms": by_level, "measures.compared": all_by_bands}, lambda m: m, RULES, True,
    ),
    "rooms within what is heard": ({"rooms.HEARD_DB": 1e-6}, lambda m: m, RULES, True),
    "rooms of long pauses": ({"measures.LONG": 0}, lambda m: m, RULES, True),
    "closures up to 150 ms": ({"measures.CLOSURE_S": (0.06, 0.12)}, lambda m: m, RULES, True),
    "any closures": ({"measures.CLOSURE_S": (-2.0, -1.0)}, lambda m: m, RULES, True),
    "what few pauses hold": ({"measures.REST_PERCENTILE": 95}, lambda m: m, RULES, True),
    "a speaker's own levels in one room": ({}, lambda m: m, replace(RULES, level_same_room=1.5), True),
    "the detector's word within sounds": ({"measures.SPOKEN": 0.0}, lambda m: m, RULES, True),
}  # fmt: skip


@dataclass
class Known:
    """What is known of a recording, with the constants as they are and as they were."""

    recording: Recording
    habits: dict[str, Habits]
    voice: Speaker


_known: dict[int, Known] = {}


def known(r: Recording) -> Known:
    """What is known of a recording; found out once."""
    if id(r) not in _known:
        whole = joins.whole_of(r.sound, r.chance)
        habits = {}
        for name, (changed, *_) in WITHOUT.items():
            with figures(changed):
                habits[name] = joins.habits(whole) if measures_change(changed) else r.habits
        _known[id(r)] = Known(r, habits, speaker(whole))
    return _known[id(r)]


def measures_change(changed: dict[str, object]) -> bool:
    return any(not name.startswith("speakers.") for name in changed)


def judged(one: Edit, r: Recording, other: Recording) -> dict[str, Judgement]:
    """The edit from one recording into another, as it is and without each thing the ear does."""
    found = {}
    left, right, plain = known(r), known(other), joins.measure_sides(*one.sides)
    for name, (changed, of, rules, compared) in WITHOUT.items():
        with figures(changed):
            measured = of(joins.measure_sides(*one.sides) if measures_change(changed) else plain)
        same = 1.0 if r is other else likeness(left.voice, right.voice) * compared
        usual = Habits(*map(max, astuple(left.habits[name]), astuple(right.habits[name])))
        found[name] = judge(measured, usual, rules, same_speaker=same)
    return found


def edits_of(half: str, seed: int) -> Iterator[Row]:
    rng = np.random.default_rng(seed)
    last = None
    for r in recordings(half, seed):
        for kind in KINDS:
            for _ in range(EACH * (4 if kind == "clean" else 1)):
                try:
                    one = edit(r, rng, kind)
                except AssertionError:
                    break  # too short for two quiet pauses
                yield Row(r.name, "one", kind, one.amount, judged(one, r, r))
        parts = halved(r)
        for kind in BETWEEN:
            for _ in range((EACH + 1) // 2 * (4 if kind == "clean" else 1)):
                try:
                    one = edit(parts[0], rng, kind, parts[1])
                except AssertionError:
                    break  # too short a recording to be split
                yield Row(r.name, "split", kind, one.amount, judged(one, *parts))
        if last is not None:
            for kind in ("clean", "clipped", "click"):
                for _ in range((EACH + 1) // 2 * (4 if kind == "clean" else 1)):
                    try:
                        one = edit(last, rng, kind, r)
                    except AssertionError:
                        break
                    names = f"{last.name} to {r.name}"
                    yield Row(names, "two voices", kind, one.amount, judged(one, last, r))
        last = r


def is_fault(row: Row) -> bool:
    return row.kind != "clean" and not (row.kind == "level" and abs(row.amount) < LEAST_STEP_DB)


def area(found: list[Row], name: str = "as it is") -> float:
    clean = np.array([row.judged[name].score for row in found if row.kind == "clean"])
    faulty = np.array([row.judged[name].score for row in found if is_fault(row)])
    return area_under_curve(clean, faulty)


def interval(found: list[Row], times: int = 400) -> tuple[float, float]:
    """95 in 100 areas of edits drawn anew from these."""
    rng = np.random.default_rng(1)
    drawn = [area([found[i] for i in rng.integers(len(found), size=len(found))]) for _ in range(times)]
    low, high = np.percentile(drawn, [2.5, 97.5])
    return float(low), float(high)


@pytest.mark.parametrize("half", ["tuning", "held out", "seen", "actors", "games", "blind"])
def test_faults_are_found(half):
    found = list(edits_of(half, 11))
    say = sys.stdout.write
    for title, files in (("one recording", ["one"]), ("with two files", ["one", "split", "two voices"])):
        part = [row for row in found if row.files in files]
        low, high = interval(part)
        alarms = np.mean([row.judged["as it is"].score >= 1 for row in part if row.kind == "clean"])
        say(f"\n{half}, {title}: {len(part)} edits, area {area(part):.4f} [{low:.3f}, {high:.3f}]")
        say(f", accused {alarms:.3f}\n")
        for name in list(WITHOUT)[1:]:
            wrong = np.mean([row.judged[name].score >= 1 for row in part if row.kind == "clean"])
            say(f"    without {name}: {area(part, name):.4f}, accused {wrong:.3f}\n")
    for voice in dict.fromkeys(row.voice for row in found):
        own = [row for row in found if row.voice == voice and row.kind == "clean"]
        wrong = Counter(r.kind for row in own for r in row.judged["as it is"].reasons[:1])
        share = np.mean([row.judged["as it is"].score >= 1 for row in own])
        say(f"  accused in {voice}: {share:.3f} of {len(own)} {dict(wrong)}\n")
    for files, kind in dict.fromkeys((row.files, row.kind) for row in found if row.kind != "clean"):
        of_kind = [row for row in found if (row.files, row.kind) == (files, kind)]
        scores = np.array([row.judged["as it is"].score for row in of_kind])
        reasons = Counter(r.kind for row in of_kind for r in row.judged["as it is"].reasons[:1])
        told = ", ".join(f"{name} {count}" for name, count in reasons.most_common(3))
        share, heard = np.mean(scores >= 1), np.mean(scores >= RULES.heard_from)
        say(f"  {files}, {kind}: found {share:.3f}, heard {heard:.3f} ({told})\n")
    for step in STEPS_DB:
        of_size = [row for row in found if row.kind == "level" and abs(row.amount) == step]
        of_step = [row.judged["as it is"].score >= 1 for row in of_size]
        say(f"  level step of {step} dB: found {np.mean(of_step):.2f} of {len(of_step)}\n" if of_step else "")
    one = area([row for row in found if row.files == "one"])
    accused = np.mean([row.judged["as it is"].score >= 1 for row in found if row.kind == "clean"])
    held = (one >= 0.985, area(found) >= 0.98, accused <= 0.015)
    met = held if half == "blind" else (None,) * 3  # the other voices have set limits
    noted(f"edits told apart, {half}, one recording", [one], "of area", ">= 0.985", met[0])
    noted(f"edits told apart, {half}, all", [area(found)], "of area", ">= 0.98", met[1])
    noted(f"clean edits accused, {half}", [accused], "of all", "<= 0.015", met[2])
    # What was reached on the blind part is 0.995 and 0.994, with 0.5 % accused: less would be a step back.
    assert half != "blind" or all(held)
    assert area([row for row in found if row.files == "one"]) >= 0.985
    assert area(found) >= 0.97
    assert np.mean([row.judged["as it is"].score >= 1 for row in found if row.kind == "clean"]) <= 0.02


@pytest.mark.parametrize("half", ["held out", "seen", "actors", "games", "blind"])
def test_clicks_of_every_shape_are_found(half):
    """In pauses, at 0.01 to 0.1 of full scale; and how many clean edits click."""
    rng = np.random.default_rng(13)
    found: dict[str, list[bool]] = {shape: [] for shape in CLICKS}
    clean = []
    for r in recordings(half, 13):
        for _ in range(EACH):
            try:
                one = edit(r, rng, "clean")
            except AssertionError:
                break  # it has no two quiet pauses
            clean.append(one.measures.click_db >= RULES.click_limit_db)
            for shape in CLICKS:
                left, right = one.sides
                size = float(np.exp(rng.uniform(np.log(0.01), np.log(0.1))))
                before, after = click_of(shape, rng, size, len(right.sound) - right.cut)
                sounds = left.sound.copy(), right.sound.copy()
                sounds[0][left.cut - len(before) : left.cut] += before
                sounds[1][right.cut :] += after
                if shape == "offset":
                    sounds[1][: right.cut] += after[0]  # all of that recording lies off zero
                left, right = (replace(s, sound=x) for s, x in zip(one.sides, sounds, strict=True))
                found[shape].append(joins.measure_sides(left, right).click_db >= RULES.click_limit_db)
    for shape, some in found.items():
        sys.stdout.write(f"\n  {half}, click, {shape}: found {np.mean(some):.3f} of {len(some)}")
    sys.stdout.write(f"\n  {half}, clean edits that click: {np.mean(clean):.4f} of {len(clean)}\n")
    assert min(np.mean(some) for some in found.values()) >= 0.8
    assert np.mean(clean) <= 0.01


def _with_their_voices(*halves: Half) -> Iterator[tuple[Voice, Recording]]:
    for half in halves:
        yield from zip(voices(half), recordings(half, 11), strict=True)


def test_a_room_inside_a_telephones_band_accuses_nobody():
    """The same where an 8 kHz recording has no more band for its room than for its voice."""
    rng = np.random.default_rng(12)
    low = butter(8, 3600, fs=RATE_HZ, output="sos")
    found: list[tuple[str, Edit, float]] = []
    for voice, wide in _with_their_voices("tuning", "held out"):
        if voice.rate_hz != RATE_HZ // 2:
            continue
        sound = sosfiltfilt(low, wide.sound).astype(np.float32)
        usual = joins.habits(joins.whole_of(sound, wide.chance))
        r = replace(wide, sound=sound, level_db=joins.frame_levels(sound)[0], habits=usual)
        for kind in ("clean", "level", "clipped", "closure", "short"):
            for _ in range(EACH * (4 if kind == "clean" else 1)):
                one = edit(r, rng, kind)
                found.append((r.name, one, judge(one.measures, r.habits, RULES).score))
    for name in dict.fromkeys(name for name, *_ in found):
        scores = [score for voice, one, score in found if voice == name and one.kind == "clean"]
        sys.stdout.write(f"\n  accused in {name}: {np.mean(np.array(scores) >= 1):.3f} of {len(scores)}")
    clean = np.array([score for _, one, score in found if one.kind == "clean"])
    faulty = np.array(
        [
            s
            for _, one, s in found
            if one.kind != "clean" and not (one.kind == "level" and abs(one.amount) < 2)
        ]
    )
    sys.stdout.write(f"\n  area {area_under_curve(clean, faulty):.4f}, accused {np.mean(clean >= 1):.3f}\n")
    assert np.mean(clean >= 1) <= 0.05
    assert area_under_curve(clean, faulty) >= 0.97
