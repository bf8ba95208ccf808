"""Speech edits whose faults are known, made from open recordings.

Each recording gets a steady room of its own: noise some 36 to 54 dB under its speech, so that its own
gates and breaths are masked and an edit made in two of its pauses is clean by making. See voices.py for
which recordings set the limits and which are only judged.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, firwin, lfilter

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
from tests.joins.voices import Half, Mono, sounds

KINDS = ("clean", "level", "room", "clipped", "through", "short", "long", "click", "closure", "breath")
"""Of one recording, what is wrong with an edit."""
BETWEEN = ("clean", "level", "room", "clipped", "click")
"""The same of a take that the camera has split into two files."""
CLICKS = ("dying", "single", "offset", "swing", "broad")
"""Shapes of a click: what a high pass leaves of a jump, one sample, a step that stays, a swing to both sides,
a pulse whose band ends at 1 to 4 kHz."""
STEPS_DB = (1, 2, 3, 4, 5, 6, 8, 10, 12)
SIDE, HANDLE = int(3.5 * RATE_HZ), int(0.6 * RATE_HZ)


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
    speech_db: float
    habits: Habits
    answer: int = 0
    """Samples at the head of each pause in which its room still answers: the word ended before them."""


@dataclass
class Edit:
    """Both sides of an edit, and what is wrong with it; amount is the step of a level fault in dB.

    out, into: the samples of the recordings where one is left and the other entered.
    """

    kind: str
    measures: Measures
    amount: float
    sides: tuple[joins.Side, joins.Side]
    out: int
    into: int


def recordings(half: Half, seed: int, most: int | None = None) -> Iterator[Recording]:
    """The recordings (or the first `most`) of the tuning or held-out half, each in a room drawn by `seed`."""
    rng = np.random.default_rng(seed)
    for voice, sound in sounds(half, rng, most):
        yield prepared(f"{voice.language}, {voice.name}", sound, rng, voice.tail_s)


def prepared(name: str, sound: Mono, rng: np.random.Generator, tail_s: float = 0.0) -> Recording:
    """A recording in a steady room of ours, which lies over what its own pauses hold."""
    detector = default_detector()
    dry = detector.probability(sound)
    speech_db = spoken_level(sound, dry)
    own = own_room(sound, dry)
    room_db = min(max(speech_db + float(rng.uniform(-54, -36)), own + 6), speech_db - 30)
    # In a loud low rumble every cut clicks: where the room is loud it hisses.
    colours = [500, 1000, 2500] if room_db < speech_db - 38 else [1500, 2500, 4000]
    sound = sound + noise(len(sound), rng, float(rng.choice(colours)), room_db)
    chance = detector.probability(sound)
    speech = sharpened(speech_spans(chance), fine_levels_db(sound), sound.size)
    answer = int(tail_s * RATE_HZ / 2)
    pauses = tuple(
        Span(a.end + answer, b.start) for a, b in pairwise(speech) if b.start - a.end > answer + RATE_HZ // 20
    )
    level_db = joins.frame_levels(sound)[0]
    usual = joins.habits(joins.whole_of(sound, chance))
    return Recording(name, sound, chance, speech, pauses, level_db, room_db, speech_db, usual, answer)


def halved(r: Recording) -> tuple[Recording, Recording]:
    """A take that was split into two files."""
    middle = len(r.sound) // 2 // HOP * HOP
    return tuple(
        _recorded(r, part, r.chance[part.start // HOP : -(-part.end // HOP)])
        for part in (Span(0, middle), Span(middle, len(r.sound)))
    )  # type: ignore[return-value]


def _recorded(r: Recording, part: Span, chance: NDArray[np.float32]) -> Recording:
    sound = r.sound[part.start : part.end]
    speech, pauses = (
        tuple(s.shifted(-part.start) for s in spans if s.start >= part.start and s.end <= part.end)
        for spans in (r.speech, r.pauses)
    )
    level_db = joins.frame_levels(sound)[0]
    usual = joins.habits(joins.whole_of(sound, chance))
    return Recording(r.name, sound, chance, speech, pauses, level_db, r.room_db, r.speech_db, usual, r.answer)


def spoken_level(sound: Mono, chance: NDArray[np.float32]) -> float:
    """Level of the louder frames of speech, dBFS."""
    level = joins.frame_levels(sound)[0]
    spoken = level[np.repeat(chance, HOP)[80::160][: len(level)] > 0.6]
    loud = spoken[spoken > np.percentile(spoken, 30)]
    return float(10 * np.log10(np.mean(10 ** (loud / 10))))


def own_room(sound: Mono, chance: NDArray[np.float32]) -> float:
    """Level of what its pauses hold, dBFS: their louder frames, digital silence aside."""
    level = joins.frame_levels(sound)[0]
    quiet = level[np.repeat(chance, HOP)[80::160][: len(level)] < 0.1]
    quiet = quiet[quiet > -90]
    return float(np.percentile(quiet, 60)) if len(quiet) > 20 else -90.0


def noise(count: int, rng: np.random.Generator, colour_hz: float, level_db: float) -> Mono:
    """Noise that falls from `colour_hz` on."""
    b, a = butter(1, colour_hz / (RATE_HZ / 2))
    hiss = lfilter(b, a, rng.standard_normal(count))
    return np.asarray(hiss / hiss.std() * 10 ** (level_db / 20), dtype=np.float32)


def edits(
    recording: Recording, rng: np.random.Generator, each: int, kinds: tuple[str, ...] = KINDS
) -> Iterator[Edit]:
    """`each` edits of every faulty kind and four times as many clean ones."""
    for kind in kinds:
        for _ in range(each * (4 if kind == "clean" else 1)):
            yield edit(recording, rng, kind)


def edit(r: Recording, rng: np.random.Generator, kind: str, other: Recording | None = None) -> Edit:
    """One edit of this kind, measured; from one recording into `other`, where there is one."""
    o = other or r
    out, into, leaving, entering = cut_in_pauses(r, rng, o)
    which = rng.integers(3)
    if kind == "clipped":  # a word loses its last or its first 60 to 200 ms
        lost = int(rng.uniform(0.06, 0.2) * RATE_HZ)
        out, into = (
            (leaving.start - r.answer - lost, into) if rng.random() < 0.5 else (out, entering.end + lost)
        )
    elif kind == "through":  # through whatever sounds: vowels and consonants
        out = inside_speech(r, rng) if which in (0, 2) else out
        into = inside_speech(o, rng) if which in (1, 2) else into
    elif kind == "closure":  # in the short silence before a plosive: the word goes on behind it
        out = in_a_closure(r, rng) if which == 0 else out
        into = in_a_closure(o, rng) if which != 0 else into
    elif kind == "short":
        out = leaving.start - r.answer + int(rng.uniform(0.005, 0.03) * RATE_HZ)
        into = entering.end - int(rng.uniform(0.005, 0.03) * RATE_HZ)
    left, left_edit = r.sound[max(0, out - SIDE) : out + HANDLE].copy(), out - max(0, out - SIDE)
    right, right_edit = o.sound[max(0, into - HANDLE) : into + SIDE].copy(), into - max(0, into - HANDLE)
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
            len(right), rng, float(rng.choice([150, 1500, 5000])), o.room_db + float(rng.uniform(4, 14))
        )
    elif kind == "click":  # what lay before the edit ends off zero, and the jump dies away
        step = float(np.exp(rng.uniform(np.log(0.01), np.log(0.1)))) * float(rng.choice([-1, 1]))
        after = np.arange(len(right) - right_edit)
        right[right_edit:] += (step * np.exp(-after / (rng.uniform(0.002, 0.02) * RATE_HZ))).astype(
            np.float32
        )
    elif kind == "breath":  # a breath of which half is left
        if which == 0:
            left += breath(len(left), left_edit, rng, r.speech_db)
        else:
            right += breath(len(right), right_edit, rng, o.speech_db)
    detector = default_detector()
    sides = (
        joins.side(left, detector.probability(left), edit=left_edit, before=True),
        joins.side(right, detector.probability(right), edit=right_edit, before=False),
    )
    return Edit(kind, joins.measure_sides(*sides), amount, sides, out, into)


def click_of(shape: str, rng: np.random.Generator, largest: float, count: int) -> tuple[Mono, Mono]:
    """What a click adds to the last samples before an edit, and to the `count` samples after it."""
    size = largest * float(rng.choice([-1, 1]))
    before, after, at = np.zeros(32), np.zeros(count), np.arange(count)
    if shape == "dying":
        after = size * np.exp(-at / (rng.uniform(0.002, 0.02) * RATE_HZ))
    elif shape == "single":
        after[0] = size
    elif shape == "offset":
        after += size
    elif shape == "swing":
        half = int(rng.integers(1, 9))
        after[:half], after[half : 2 * half] = size, -size
    else:
        pulse = firwin(63, float(rng.choice([1000, 2000, 4000])), fs=RATE_HZ)
        pulse *= size / pulse.max()
        before[1:], after[:32] = pulse[:31], pulse[31:]
    return before.astype(np.float32), after.astype(np.float32)


def breath(count: int, middle: int, rng: np.random.Generator, speech_db: float) -> Mono:
    """A breath of a quarter to half a second around a sample, 16 to 24 dB under the voice."""
    length = int(rng.uniform(0.25, 0.5) * RATE_HZ)
    b, a = butter(1, (800, 4000), "bandpass", fs=RATE_HZ)
    hiss = lfilter(b, a, rng.standard_normal(length)) * np.sin(np.pi * np.arange(length) / length)
    hiss *= 10 ** ((speech_db + rng.uniform(-24, -16)) / 20) / hiss.std()
    made = np.zeros(count, np.float32)
    first = middle - int(length * rng.uniform(0.3, 0.7))
    start, end = max(0, first), min(count, first + length)
    made[start:end] = hiss[start - first : end - first]
    return made


def cut_in_pauses(
    r: Recording, rng: np.random.Generator, other: Recording | None = None
) -> tuple[int, int, Span, Span]:
    """Out and in points in two pauses that leave an ordinary pause between the words, and the pauses."""
    leave, enter = (_usable(one) for one in (r, other or r))
    clear = int(0.05 * RATE_HZ)
    for _ in range(4000 if leave and enter else 0):
        leaving, entering = leave[rng.integers(len(leave))], enter[rng.integers(len(enter))]
        if other is None and leaving == entering:
            continue
        out = int(rng.uniform(leaving.start + clear, leaving.end - clear))
        into = int(rng.uniform(entering.start + clear, entering.end - clear))
        left = out - leaving.start + entering.end - into
        # Knocks and breaths that a recording has in its pauses are no place for a clean edit.
        if 0.14 * RATE_HZ <= left <= RATE_HZ and _is_quiet(r, out) and _is_quiet(other or r, into):
            return out, into, leaving, entering
    raise AssertionError(f"{r.name} has no two quiet pauses")


def _is_quiet(r: Recording, place: int) -> bool:
    """True where for 60 ms to both sides nothing rises 8 dB over the recording's room."""
    near = r.level_db[max(0, place // 160 - 6) : place // 160 + 7]
    return bool(near.max() < r.room_db + 8)


def _usable(r: Recording) -> list[Span]:
    far = int(1.5 * RATE_HZ)
    return [p for p in r.pauses if p.length >= 0.14 * RATE_HZ and far < p.start < len(r.sound) - far]


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


def in_a_closure(r: Recording, rng: np.random.Generator) -> int:
    """A sample in a silence of 30 to 90 ms within speech: under a fifth of the way from room to voice.

    Anywhere in speech where a recording holds none.
    """
    quiet = r.level_db < r.room_db + 0.2 * (r.speech_db - r.room_db)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], quiet.astype(int), [0]))))
    far = int(1.5 * RATE_HZ)
    found = [
        (a + b) * 80
        for a, b in zip(edges[::2], edges[1::2], strict=True)
        if 3 <= b - a <= 9
        and far < a * 160 < len(r.sound) - far
        and any(s.start + RATE_HZ // 10 < a * 160 and b * 160 < s.end - RATE_HZ // 10 for s in r.speech)
    ]
    return int(found[rng.integers(len(found))]) if found else inside_speech(r, rng)
