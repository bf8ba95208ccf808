"""A loudness meter for sound that comes in parts: a film is never held in memory whole.

Loudness and true peak of ITU-R BS.1770-4, range of EBU Tech 3342.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, log10

import numpy as np
from numpy.typing import NDArray

from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.filters import filtered
from mltassist.media.sound.loudness import K_WEIGHTING, energy_lufs, gated_lufs, range_lu
from mltassist.media.sound.peaks import REACH, STRIDE, highest_between

METER_HOP = MIX_HZ // 10
_PART = MIX_HZ
"""Samples weighted at a time: what is worked on stays near the processor."""
_MOMENTARY, _SHORT_TERM = 4, 30  # hops


@dataclass(frozen=True, slots=True)
class Loudness:
    """What a meter has read, LUFS, LU and dBTP; -inf where there was no sound.

    peak_dbtp: nan where peaks were not asked for. short_term_max_lufs: of the loudest three seconds (EBU Tech
    3341).
    """

    integrated_lufs: float
    range_lu: float
    peak_dbtp: float
    short_term_max_lufs: float = -inf


AT_REST = np.zeros((len(K_WEIGHTING), 2, 2))
"""The weighting before any sound."""


def weighted_powers(
    sound: NDArray[np.float32], state: NDArray[np.float64] = AT_REST
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The power of both channels, weighted, for every sample of (2, samples), and the state that is left."""
    # A mono recording on both sides is half the work.
    mono = np.array_equal(state[:, 0], state[:, 1]) and np.array_equal(sound[0], sound[1])
    used = 1 if mono else 2
    state, powers = state[:, :used], np.empty(sound.shape[1])
    for at in range(0, sound.shape[1], _PART):
        part = sound[:used, at : at + _PART].astype(np.float64)
        weighted, state = filtered(K_WEIGHTING, part, state)
        np.square(weighted, out=weighted)
        np.add(weighted[0], weighted[-1], out=powers[at : at + _PART])
    return powers, np.repeat(state, 2, axis=1) if mono else state


class Meter:
    """Reads stereo sound at 48 kHz part by part."""

    def __init__(self, *, peaks: bool = False) -> None:
        self._filter = AT_REST
        self._rest = np.zeros(0)
        self._energies: list[NDArray[np.float64]] = []
        self._power = self._plain_power = 0.0
        self._samples = 0
        self._peaks = peaks
        self._peak = 0.0
        # What was read last, behind what bends its wave; before the sound there is silence.
        self._waiting = np.zeros((2, REACH), np.float32)

    @classmethod
    def of_powers(
        cls,
        pieces: Sequence[tuple[int, NDArray[np.float64]]],
        slot: int,
        plain_power: float,
        peak: float | None,
    ) -> Meter:
        """A meter that has read sound of which this is known.

        pieces: samples of each, and its weighted powers, each summed over `slot` samples, the last over what
        is left. plain_power: summed, unweighted; peak: the highest value on and between the samples, None
        where it was not asked for.
        """
        made = cls(peaks=peak is not None)
        samples = np.array([0, *(many for many, _ in pieces)]).cumsum()
        ends = [
            start + np.minimum(np.arange(1, powers.size + 1) * slot, many)
            for start, (many, powers) in zip(samples, pieces, strict=False)
        ]
        made._samples = int(samples[-1])
        sums = np.concatenate([np.zeros(1), *(powers for _, powers in pieces)]).cumsum()
        hops = np.arange(0, made._samples + 1, METER_HOP)
        until = np.interp(hops, np.concatenate([np.zeros(1), *ends]), sums)
        made._energies = [np.maximum(0.0, np.diff(until)) / METER_HOP]
        made._power, made._plain_power, made._peak = float(sums[-1]), plain_power, peak or 0.0
        return made

    def add(self, sound: NDArray[np.float32]) -> None:
        """Read the next part, shape (2, samples), full scale ±1.0."""
        if not sound.shape[1]:
            return
        power, self._filter = weighted_powers(sound, self._filter)
        self._power += float(power.sum())
        self._plain_power += float(np.vdot(sound, sound))
        self._samples += power.size
        power = np.concatenate((self._rest, power))
        whole = power.size // METER_HOP
        self._energies.append(power[: whole * METER_HOP].reshape(whole, METER_HOP).mean(axis=1))
        self._rest = power[whole * METER_HOP :]
        if self._peaks:
            self._read_peak(sound)

    def _read_peak(self, sound: NDArray[np.float32]) -> None:
        # The last samples wait for those that come after them, which bend the wave between them.
        self._waiting = np.concatenate((self._waiting, sound), axis=1)
        if self._waiting.shape[1] >= STRIDE + 2 * REACH:
            self._peak = highest_between(self._waiting, self._peak)
            self._waiting = self._waiting[:, -2 * REACH :]

    @property
    def mean_lufs(self) -> float:
        """Ungated loudness of all that was read."""
        return energy_lufs(self._power / self._samples) if self._power else -inf

    @property
    def mean_db(self) -> float:
        """Plain level of all that was read, dBFS: unweighted, ungated, the mean power of both channels."""
        return 10 * log10(self._plain_power / (2 * self._samples)) if self._plain_power else -inf

    @property
    def blocks(self) -> NDArray[np.float64]:
        """Energies of the blocks of 400 ms, one every 100 ms, that loudness is gated by."""
        return _windows(self.tenths, _MOMENTARY)

    @property
    def tenths(self) -> NDArray[np.float64]:
        """Weighted energy of every whole tenth of a second."""
        return np.concatenate([np.zeros(0), *self._energies])

    def shaped_lufs(self, gains_db: NDArray[np.float64]) -> float:
        """Gated loudness of all that was read, as it would be with a gain on every tenth of a second."""
        return gated_lufs(_windows(self.tenths * 10 ** (gains_db / 10), _MOMENTARY))

    def read(self, gain_db: float = 0.0) -> Loudness:
        """The figures of all that was read so far, as they would be with one gain on all of it.

        The gain is put on every block before it is gated, so that the absolute gate holds for what is heard.
        """
        energies = self.tenths * 10 ** (gain_db / 10)
        momentary, short = (_windows(energies, hops) for hops in (_MOMENTARY, _SHORT_TERM))
        peak = float("nan")
        if self._peaks:
            silence = np.zeros((2, STRIDE + 2 * REACH), np.float32)
            highest = highest_between(np.concatenate((self._waiting, silence), axis=1), self._peak)
            peak = 20 * log10(highest) + gain_db if highest else -inf
        loudest = energy_lufs(float(short.max())) if short.size and short.max() > 0 else -inf
        return Loudness(gated_lufs(momentary), range_lu(short), peak, loudest)


def together(meters: Sequence[Meter]) -> tuple[float, float]:
    """Loudness (LUFS) and plain level (dBFS) of all that several meters have read, as if one after the other.

    Blocks in which two of them would meet are left out. What is too short for any block is not gated.
    """
    blocks = np.concatenate([np.zeros(0), *(meter.blocks for meter in meters)])
    samples = sum(meter._samples for meter in meters)
    power = sum(meter._power for meter in meters)
    plain_power = sum(meter._plain_power for meter in meters)
    lufs = gated_lufs(blocks) if blocks.size else energy_lufs(power / samples) if power else -inf
    return lufs, 10 * log10(plain_power / (2 * samples)) if plain_power else -inf


def _windows(energies: NDArray[np.float64], hops: int) -> NDArray[np.float64]:
    if energies.size < hops:
        return np.zeros(0)
    return np.asarray(np.lib.stride_tricks.sliding_window_view(energies, hops).mean(axis=1))
