"""What a recording sounds like, from a few seconds here and there; more only where that leaves doubt."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mltassist.media.cache import Analysis, Arrays, remembered
from mltassist.media.sound.decode import read_sound
from mltassist.media.sound.kind import Kind, bands_spoken, kind_chances, traits
from mltassist.media.sound.speech import HOP, RATE_HZ, SpeechDetector
from mltassist.media.sound.voices import Stretches, second_voice, voice_stretches

_HINTS = Analysis("sound hints", 2)
HINT_WINDOW = 150 * HOP
"""Samples heard at a time: 4.8 s, in which someone who speaks is heard to pause and go on."""
_FIRST, MOST_FILES = 3, 9
"""Windows at first, and where these leave doubt."""
_SURE = 0.9
_DOUBTFUL_SHARE = (0.1, 0.5)
"""Part of the sound that is speech between which more is heard: a remark, or an interview that pauses."""
_LEAST = RATE_HZ // 2


@dataclass(frozen=True, slots=True)
class SoundHints:
    """What was heard of a recording.

    speech: part of it that is speech, 0 to 1; runs_s: how long somebody speaks without pause; kinds: chance
    that each kind is what is heard most; level_db: of its loudest window; voices: how much better two voices
    describe its speech than one (see `second_voice`).
    """

    speech: float
    runs_s: float
    kinds: dict[Kind, float]
    level_db: float
    voices: float = 0.0


def sound_hints(path: Path, length_s: Fraction, detector: SpeechDetector, *, stream: int = 0) -> SoundHints:
    """Listen to parts of the first `length_s` seconds of a file; remembered.

    Raises SourceMissing when there is no file, MediaError when it has no such sound.
    """
    parameters = (("length", str(length_s)), ("stream", stream), ("detector", detector.name))
    kept = remembered(
        path,
        Analysis(_HINTS.name, _HINTS.version, parameters),
        lambda: _listened(path, int(length_s * RATE_HZ), detector, stream),
    )
    found, spoken = kept["rows"], kept["spoken"]
    kinds = found[:, 3:].mean(axis=0)
    return SoundHints(
        speech=float(found[:, 0].mean()),
        runs_s=float(np.median(found[:, 1])),
        kinds=dict(zip(Kind, kinds.tolist(), strict=True)),
        level_db=float(found[:, 2].max()),
        voices=second_voice(spoken),
    )


def _listened(path: Path, total: int, detector: SpeechDetector, stream: int) -> Arrays:
    heard: dict[int, tuple[NDArray[np.float64], Stretches]] = {}
    for count in (_FIRST, MOST_FILES):
        for start in window_starts(total, count):
            if start not in heard:
                heard[start] = _window(path, start, min(HINT_WINDOW, max(total, _LEAST)), detector, stream)
        rows = np.array([row for row, _ in heard.values()])
        share, kinds = rows[:, 0].mean(), rows[:, 3:].mean(axis=0)
        low, high = _DOUBTFUL_SHARE
        if kinds.max() >= _SURE and not low < share < high:
            break
    return {"rows": rows, "spoken": np.concatenate([spoken for _, spoken in heard.values()])}


def window_starts(total: int, count: int) -> list[int]:
    """Where windows begin that are spread over `total` samples; the ends, where hands are heard, are left."""
    room = total - HINT_WINDOW
    if room <= 0:
        return [0]
    count = min(count, -(-total // HINT_WINDOW))
    return [room * (2 * number + 1) // (2 * count) for number in range(count)]


def _window(
    path: Path, start: int, count: int, detector: SpeechDetector, stream: int
) -> tuple[NDArray[np.float64], Stretches]:
    mono = read_sound(path, start, count, rate_hz=RATE_HZ, stream=stream, mono=True)[0]
    chance = detector.probability(mono)
    measured = traits(mono, chance)
    chances = kind_chances(measured)
    row = [measured.speech, measured.runs_s, measured.level_db, *(chances[kind] for kind in Kind)]
    return np.array(row), voice_stretches(*bands_spoken(mono, chance))
