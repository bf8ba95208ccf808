"""The most alive, cleanest stretch of a natural-sound recording.

A recording is first described per block of 100 ms (`Liveness`); choosing is then a matter of an open
weighted sum (`best_window`), so that every figure in it can be looked at and tuned.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from mltassist.media.cache import Analysis, remembered
from mltassist.media.sound.decode import MIX_HZ, read_sound
from mltassist.media.sound.liveness import BLOCK, Liveness, liveness, ramp_of
from mltassist.media.sound.speech import SpeechDetector

LEVEL_WEIGHT = 0.4
"""Life in a dB over the recording's median level; what is only loud counts less than what begins."""
LEVEL_RANGE_DB = (-10.0, 15.0)
"""How far level may speak: a roar of 30 dB is not twice as alive as one of 15 dB."""
ONSET_WEIGHT = 1.0
"""Life in a dB by which the bands rise."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What a fault takes from the mean life (dB) of a window.

    any: when its worst block is wholly at fault, however short. share: when all its blocks are.
    """

    any: float
    share: float


COSTS = {
    "speech": Cost(30.0, 150.0),  # nobody may speak: a single word spoils the pause
    "clipped": Cost(12.0, 60.0),
    "handling": Cost(6.0, 40.0),
    "wind": Cost(4.0, 25.0),  # the weakest: it can be filtered, and some of it is the place
}

USED = Cost(6.0, 40.0)
"""What it takes that the film has a moment elsewhere: nothing is seen twice where there is a choice."""

SPEECH_REACH = 3
"""Blocks around speech that count as speech: the ends of words are too weak to be found."""
SPEECH_CHANCE = (0.5, 0.85)
"""Chance of speech that costs nothing, as many an event has it, and that costs all."""
AT_FAULT = 0.5
"""A block at or over this counts in the shares that are told."""
_PART, _LEAD = 75 * 8 * BLOCK, 6 * 8 * BLOCK
"""Samples heard at a time (60 s), and before and after them (4.8 s): whole blocks of ours and, at 16 kHz,
whole HOPs of the speech detector."""


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch chosen: its first block, its life less the costs (dB), and the shares at fault, 0 to 1."""

    start: int
    alive: float
    speech: float = 0.0
    clipped: float = 0.0
    wind: float = 0.0
    handling: float = 0.0


def best_window(heard: Liveness, window: int, used: NDArray[np.float64] | None = None) -> Window:
    """The `window` blocks in which most happens and nothing is wrong; the first of equals.

    used: for each block from 0 to 1, whether the film shows or plays it already. Where every stretch has a
    fault the one with the least life lost is taken; the shares tell. A recording no longer than the window
    is taken whole.
    """
    if heard.blocks == 0:
        return Window(0, 0.0)
    window = max(1, min(window, heard.blocks))
    merit = _means(life(heard), window)
    faults = _faults(heard)
    for name, fault in faults.items():
        merit -= COSTS[name].any * _peaks(fault, window) + COSTS[name].share * _means(fault, window)
    if used is not None:
        merit -= USED.any * _peaks(used, window) + USED.share * _means(used, window)
    start = int(np.argmax(merit))
    shares = {
        name: float(np.mean(fault[start : start + window] >= AT_FAULT)) for name, fault in faults.items()
    }
    return Window(start, float(merit[start]), **shares)


def life(heard: Liveness) -> NDArray[np.float64]:
    """How much happens in each block, dB-like: about 0 in the recording's ordinary blocks."""
    if heard.blocks == 0:
        return np.zeros(0)
    level = np.clip(heard.level_db - np.median(heard.level_db), *LEVEL_RANGE_DB)
    onsets = np.maximum(0.0, heard.onsets_db - np.median(heard.onsets_db))
    return np.asarray(LEVEL_WEIGHT * level + ONSET_WEIGHT * onsets, np.float64)


def listen_natural(
    path: Path, first: int, count: int, *, detector: SpeechDetector | None = None, stream: int = 0
) -> Liveness:
    """The description of samples `first` to `first + count`, at 48 kHz, of a file; kept between runs.

    Heard a minute at a time, so memory does not grow with the length. `detector` must tell a voice from
    other sounds that come and go; without one `speech` stays 0. Raises what `read_sound` raises.
    """
    name = "none" if detector is None else detector.name
    parameters = (("first", first), ("count", count), ("stream", stream), ("detector", name))

    def compute() -> dict[str, NDArray[np.float64]]:
        parts = [liveness(np.zeros((1, 0), np.float32))]
        for at in range(0, count - count % BLOCK, _PART):
            before = min(at, _LEAD)
            wanted = min(_PART, count - at)
            after = min(_LEAD, count - at - wanted)
            sound = read_sound(
                path, first + at - before, before + wanted + after, rate_hz=MIX_HZ, stream=stream
            )
            whole = liveness(sound, detector)
            inside = slice(before // BLOCK, before // BLOCK + wanted // BLOCK)
            parts.append(Liveness(*(getattr(whole, field.name)[inside] for field in fields(Liveness))))
        return {
            field.name: np.concatenate([getattr(part, field.name) for part in parts])
            for field in fields(Liveness)
        }

    return Liveness(**remembered(path, Analysis("natural sound", 2, parameters), compute))


def _faults(heard: Liveness) -> dict[str, NDArray[np.float64]]:
    voices = ramp_of(heard.speech, *SPEECH_CHANCE)
    speech = maximum_filter1d(voices, 2 * SPEECH_REACH + 1, mode="constant")
    return {"speech": speech, "clipped": heard.clipped, "wind": heard.wind, "handling": heard.handling}


def _means(values: NDArray[np.float64], window: int) -> NDArray[np.float64]:
    total = np.concatenate(([0.0], np.cumsum(values)))
    return np.asarray((total[window:] - total[:-window]) / window, np.float64)


def _peaks(values: NDArray[np.float64], window: int) -> NDArray[np.float64]:
    """The largest value of each whole window."""
    found = maximum_filter1d(values, window, mode="constant", origin=-((window - 1) // 2) - (window + 1) % 2)
    return np.asarray(found[: len(values) - window + 1], np.float64)
