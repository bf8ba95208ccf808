"""Loudness from energies: the filter and gates of ITU-R BS.1770-4, and the range of EBU Tech 3342.

Sound is at 48 kHz: the recommendation tables its filter for that rate only. Silence is -inf.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

# BS.1770-4 Annex 1 tables 1 (head shelf) and 2 (high pass), as second-order sections b0 b1 b2 1 a1 a2.
K_WEIGHTING = np.array(
    [
        [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585],
        [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621],
    ]
)
_ABSOLUTE_GATE_LUFS = -70.0


def energy_lufs(mean_square: float) -> float:
    """Loudness of a weighted sum of channel mean squares: -0.691 + 10 log10 (Annex 1)."""
    return float(_lufs(np.array(mean_square)))


def gated_lufs(energies: NDArray[np.float64]) -> float:
    """Programme loudness from the energies of 400 ms blocks, one every 100 ms: gates -70 LUFS and -10 LU.

    -inf when no block passes, so also for anything shorter than a block.
    """
    kept = _gated(energies, -10.0)
    return energy_lufs(float(kept.mean())) if kept.size else float("-inf")


def range_lu(energies: NDArray[np.float64]) -> float:
    """Loudness range from the energies of 3 s blocks, one every 100 ms: gates -70 LUFS and -20 LU.

    0 when nothing passes the gates. Not telling for sound under a minute.
    """
    kept = _gated(energies, -20.0)
    if not kept.size:
        return 0.0
    low, high = np.percentile(_lufs(kept), (10, 95))
    return float(high - low)


def _gated(energies: NDArray[np.float64], relative_lu: float) -> NDArray[np.float64]:
    loud = energies[_lufs(energies) > _ABSOLUTE_GATE_LUFS]
    if not loud.size:
        return loud
    return loud[_lufs(loud) > energy_lufs(float(loud.mean())) + relative_lu]


def _lufs(energies: NDArray[np.float64]) -> NDArray[np.float64]:
    with np.errstate(divide="ignore"):
        return -0.691 + 10 * np.log10(energies)
