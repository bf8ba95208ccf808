"""Speech edits whose faults are known, made from open recordings.

Each recording gets a steady room of its own: noise some 36 to 42 dB under its speech, so that its own
gates and breaths are masked and an edit made in two of its pauses is clean by making. The halves differ
in recordings: one was used to set the limits, the other is only judged.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, resample_poly

from mltassist.frames import Span
from mltassist.joins import measures as joins
from mltassist.joins.planner.judge import Habits, Measures
from mltassist.media.sound.speech import (
    HOP,
    RATE_HZ,
    default_detector,
    fine_levels_db,
    sharpened,
    speech_spans,
)
from tests.samples import ASTERISK, LIBRIVOX, debian_folder

KINDS = ("clean", "level", "room", "clipped", "through", "short", "long")
STEPS_DB = (1, 2, 3, 4, 5, 6, 8, 10, 12)
SIDE, HANDLE = int(3.5 * RATE_HZ), int(0.6 * RATE_HZ)

Mono = NDArray[np.float32]


@dataclass
class Recording:
    """One speaker in one room: sound, chance of speech, speech and pauses in samples, habits."""

    name: str
    sound: Mono
    chance: NDArray[np.float32]
    speech: tuple[Span, ...]
    pauses: tuple[Span, ...]
    level_db: NDArray[np.float64]
    room_db: float
    habits: Habits


@dataclass
class Edit:
    """Both sides of an edit, and what is wrong with it; amount is the step of a level fault in dB.

    out, into: the samples of the recording where it is left and entered again.
    """

    kind: str
    measures: Measures
    amount: float
    sides: tuple[joins.Side, joins.Side]
    out: int
    into: int


def recordings(half: str, seed: int) -> Iterator[Recording]:
    """The recordings of the tuning or the held-out half, each in a room drawn by `seed`."""
    rng = np.random.default_rng(seed)
    asterisk = debian_folder(ASTERISK) / "usr/share/asterisk/sounds"
    found = sorted(p for p in asterisk.rglob("*.wav") if "demo-" not in p.name and "silence" not in str(p))
    takes = [take for path in found if 1.4 * RATE_HZ < len(take := mono(path)) < 6 * RATE_HZ]
    demo = {p.stem: p for p in asterisk.rglob("demo-*.wav")}
    if half == "tuning":
        yield prepared("instructions", mono(demo["demo-instruct"]), rng)
        yield prepared("first takes", spaced(takes[:40], rng), rng)
        return
    librivox = debian_folder(LIBRIVOX) / "usr/share/pocketsphinx/test/data/librivox"
    reading = np.concatenate([mono(path) for path in sorted(librivox.glob("*.wav"))])
    yield prepared("reading", reading, rng)
    yield prepared("greeting", mono(demo["demo-congrats"]), rng)
    yield prepared("last takes", spaced(takes[-40:], rng), rng)


def mono(path: Path) -> Mono:
    """A recording at 16 kHz."""
    sound, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
    return np.asarray(resample_poly(sound.mean(axis=1), RATE_HZ, rate_hz), dtype=np.float32)


def spaced(takes: list[Mono], rng: np.random.Generator) -> Mono:
    """Takes of one voice with pauses between them."""
    gaps = (np.zeros(int(rng.uniform(0.12, 0.45) * RATE_HZ), np.float32) for _ in takes)
    return np.concatenate([part for pair in zip(takes, gaps, strict=True) for part in pair])


def prepared(name: str, sound: Mono, rng: np.random.Generator) -> Recording:
    """A recording in a steady room of ours."""
    detector = default_detector()
    room_db = spoken_level(sound, detector.probability(sound)) + float(rng.uniform(-42, -36))
    sound = sound + noise(len(sound), rng, float(rng.choice([300, 800, 2000])), room_db)
    chance = detector.probability(sound)
    speech = sharpened(speech_spans(chance), fine_levels_db(sound), sound.size)
    pauses = tuple(Span(a.end, b.start) for a, b in pairwise(speech))
    level_db = joins.frame_levels(sound)[0]
    return Recording(name, sound, chance, speech, pauses, level_db, room_db, joins.habits(sound, chance))


def spoken_level(sound: Mono, chance: NDArray[np.float32]) -> float:
    """Level of the louder frames of speech, dBFS."""
    level = joins.frame_levels(sound)[0]
    spoken = level[np.repeat(chance, HOP)[80::160][: len(level)] > 0.6]
    loud = spoken[spoken > np.percentile(spoken, 30)]
    return float(10 * np.log10(np.mean(10 ** (loud / 10))))


def noise(count: int, rng: np.random.Generator, colour_hz: float, level_db: float) -> Mono:
    """Noise that falls from `colour_hz` on."""
    b, a = butter(1, colour_hz / (RATE_HZ / 2))
    hiss = lfilter(b, a, rng.standard_normal(count))
    return np.asarray(hiss / hiss.std() * 10 ** (level_db / 20), dtype=np.float32)


def edits(recording: Recording, rng: np.random.Generator, each: int) -> Iterator[Edit]:
    """`each` edits of every faulty kind and four times as many clean ones."""
    for kind in KINDS:
        for _ in range(each * (4 if kind == "clean" else 1)):
            yield edit(recording, rng, kind)


def edit(r: Recording, rng: np.random.Generator, kind: str) -> Edit:
    """One edit of this kind, measured."""
    out, into, leaving, entering = cut_in_pauses(r, rng)
    if kind == "clipped":  # a word loses its last or its first 60 to 200 ms
        lost = int(rng.uniform(0.06, 0.2) * RATE_HZ)
        out, into = (leaving.start - lost, into) if rng.random() < 0.5 else (out, entering.end + lost)
    elif kind == "through":  # through whatever sounds: vowels and consonants
        which = rng.integers(3)
        out = inside_speech(r, rng) if which in (0, 2) else out
        into = inside_speech(r, rng) if which in (1, 2) else into
    elif kind == "short":
        out = leaving.start + int(rng.uniform(0.005, 0.03) * RATE_HZ)
        into = entering.end - int(rng.uniform(0.005, 0.03) * RATE_HZ)
    left, left_edit = r.sound[max(0, out - SIDE) : out + HANDLE], out - max(0, out - SIDE)
    right, right_edit = r.sound[max(0, into - HANDLE) : into + SIDE].copy(), into - max(0, into - HANDLE)
    amount = 0.0
    if kind == "long":  # the pause drawn out with more of the same room
        more = noise(int(rng.uniform(1.8, 3.5) * RATE_HZ), rng, 800, r.room_db)
        left = np.concatenate([left[:left_edit], more, left[left_edit:]])
        left_edit += len(more)
    elif kind == "level":
        amount = float(rng.choice(STEPS_DB)) * float(rng.choice([-1, 1]))
        right *= np.float32(10 ** (amount / 20))
    elif kind == "room":  # another place, 4 to 14 dB louder and of another colour
        right += noise(
            len(right), rng, float(rng.choice([150, 1500, 5000])), r.room_db + float(rng.uniform(4, 14))
        )
    detector = default_detector()
    sides = (
        joins.side(left, detector.probability(left), edit=left_edit, before=True),
        joins.side(right, detector.probability(right), edit=right_edit, before=False),
    )
    return Edit(kind, joins.measure(*sides), amount, sides, out, into)


def cut_in_pauses(r: Recording, rng: np.random.Generator) -> tuple[int, int, Span, Span]:
    """Out and in points in two pauses that leave an ordinary pause between the words, and the pauses."""
    far = int(1.5 * RATE_HZ)
    usable = [p for p in r.pauses if p.length >= 0.14 * RATE_HZ and far < p.start < len(r.sound) - far]
    clear = int(0.05 * RATE_HZ)
    while True:
        leaving, entering = (usable[i] for i in rng.choice(len(usable), 2, replace=False))
        out = int(rng.uniform(leaving.start + clear, leaving.end - clear))
        into = int(rng.uniform(entering.start + clear, entering.end - clear))
        left = out - leaving.start + entering.end - into
        if 0.14 * RATE_HZ <= left <= RATE_HZ:
            return out, into, leaving, entering


def inside_speech(r: Recording, rng: np.random.Generator) -> int:
    """A sample in the middle of loud speech."""
    loud = float(np.percentile(r.level_db, 60))
    while True:
        span = r.speech[rng.integers(len(r.speech))]
        if span.length < 0.5 * RATE_HZ:
            continue
        place = int(rng.integers(span.start + RATE_HZ // 8, span.end - RATE_HZ // 8))
        if 1.5 * RATE_HZ < place < len(r.sound) - 1.5 * RATE_HZ and r.level_db[place // 160] > loud:
            return place
