"""One voice or several: stretches of speech told apart by their spectra, with nothing trained.

Each second or so of speech is described by the Gaussian of its cepstra. Two such stretches are of one voice
where one Gaussian describes both nearly as well as two do: the Bayesian information criterion of S. Chen and
P. Gopalakrishnan (1998, "Speaker, environment and channel change detection and clustering via the BIC").
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.fft import dct

CEPSTRA = 12
"""Coefficients 1 to 12: the zeroth is the level."""
STRETCH = 75
"""Frames of 16 ms in which someone speaks, 1.2 s: as short as a turn may be."""
_LEAST = 40
_FLOOR = 0.05
"""Added to each variance, so that a stretch that hardly moves has one."""

Stretches = NDArray[np.float64]
"""One row for each stretch of speech: its frames, its mean, and its covariance: (n, 1 + 12 + 144)."""


def voice_stretches(bands: NDArray[np.float64], spoken: NDArray[np.bool_]) -> Stretches:
    """The stretches of speech in some sound. bands: power (bands, frames); spoken: which frames are."""
    count = min(bands.shape[1], spoken.size)
    heard = bands[:, :count][:, spoken[:count]]
    cepstra = dct(np.log(heard + 1e-10), axis=0, norm="ortho")[1 : CEPSTRA + 1].T
    rows = []
    for first in range(0, len(cepstra), STRETCH):
        part = cepstra[first : first + STRETCH]
        if len(part) >= _LEAST:
            rows.append(np.concatenate([[len(part)], part.mean(axis=0), np.cov(part.T, bias=True).ravel()]))
    return np.array(rows, np.float64).reshape(-1, 1 + CEPSTRA + CEPSTRA**2)


def second_voice(found: Stretches) -> float:
    """By how much two voices describe these stretches better than one, nats for each frame of 16 ms.

    Stretches that are most alike become one until two are left; of what these gain the criterion's penalty
    for the second description is taken. 0 or less speaks for one voice; 0 for less than two stretches.
    """
    rows = list(found)
    if len(rows) < 2:
        return 0.0
    gains = np.full((len(rows), len(rows)), np.inf)
    for i in range(len(rows) - 1):
        gains[i, i + 1 :] = _gain(rows[i], np.array(rows[i + 1 :]))
    while len(rows) > 2:
        i, j = (int(n) for n in np.unravel_index(int(np.argmin(gains)), gains.shape))
        rows[i] = _merged(rows[i], rows[j])
        del rows[j]
        gains = np.delete(np.delete(gains, j, 0), j, 1)
        again = _gain(rows[i], np.array(rows))
        gains[i, i + 1 :], gains[:i, i] = again[i + 1 :], again[:i]
    whole = float(rows[0][0] + rows[1][0])
    penalty = 0.5 * (CEPSTRA + CEPSTRA * (CEPSTRA + 1) / 2) * np.log(whole)
    return float((_gain(rows[0], np.array(rows[1:]))[0] - penalty) / whole)


def _gain(one: NDArray[np.float64], others: Stretches) -> NDArray[np.float64]:
    """What two Gaussians describe better than one, nats: of one stretch against each of the others."""
    both = np.array([_merged(one, other) for other in others])
    apart = one[0] * _spread(one[None]) + others[:, 0] * _spread(others)
    return np.asarray(0.5 * (both[:, 0] * _spread(both) - apart))


def _spread(rows: Stretches) -> NDArray[np.float64]:
    """Logarithm of the determinant of each covariance."""
    covariance = rows[:, 1 + CEPSTRA :].reshape(-1, CEPSTRA, CEPSTRA) + _FLOOR * np.eye(CEPSTRA)
    return np.asarray(np.linalg.slogdet(covariance)[1])


def _merged(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two stretches as one: exactly what all of their frames together would give."""
    whole = one[0] + other[0]
    a, b = one[0] / whole, other[0] / whole
    step = one[1 : 1 + CEPSTRA] - other[1 : 1 + CEPSTRA]
    spread = a * one[1 + CEPSTRA :] + b * other[1 + CEPSTRA :] + a * b * np.outer(step, step).ravel()
    return np.concatenate([[whole], a * one[1 : 1 + CEPSTRA] + b * other[1 : 1 + CEPSTRA], spread])
