"""Filters of scipy.signal, which is loaded when the first of them is asked for.

It takes two thirds of a second of the processor: more than reading a project, or a season that is finished.
"""

from __future__ import annotations

from functools import cache
from math import gcd
from typing import Any

import numpy as np
from numpy.typing import NDArray


def filtered(sections: Any, sound: NDArray[Any], state: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any]]:  # noqa: ANN401
    """Sound through second-order sections along its last axis, and the state they are left in."""
    from scipy.signal import sosfilt  # noqa: PLC0415

    out, left = sosfilt(sections, sound, axis=-1, zi=state)
    return out, left


def band_passed(sound: NDArray[Any], band_hz: tuple[int, int], rate_hz: int) -> NDArray[Any]:
    """Sound within a band, without delay: a Butterworth filter of second order, forth and back."""
    from scipy.signal import butter, sosfiltfilt  # noqa: PLC0415

    sections = butter(2, band_hz, "bandpass", fs=rate_hz, output="sos")
    return np.asarray(sosfiltfilt(sections, sound, padlen=min(48, sound.size - 1)))


def resampled(sound: NDArray[Any], up: int, down: int) -> NDArray[Any]:
    """Sound at `up / down` of its rate, along its last axis."""
    from scipy.signal import resample_poly  # noqa: PLC0415

    if up == down:
        return sound.copy()
    steps = max(up, down) // gcd(up, down)
    kind = sound.dtype if sound.dtype.kind == "f" else np.dtype(np.float64)
    window: Any = _low_pass(steps).astype(kind)  # the stubs know no filter of one's own
    return np.asarray(resample_poly(sound, up, down, axis=-1, window=window))


@cache
def _low_pass(steps: int) -> NDArray[np.float64]:
    """The filter that `resample_poly` makes anew each time, for one part in `steps` of the band."""
    from scipy.signal import firwin  # noqa: PLC0415

    return np.asarray(firwin(20 * steps + 1, 1 / steps, window=("kaiser", 5.0)))


def hann(length: int) -> NDArray[np.float32]:
    """The window of Hann for spectra."""
    from scipy.signal import get_window  # noqa: PLC0415

    return np.asarray(get_window("hann", length), np.float32)
