"""How far one picture differs from another, and how far it has moved against it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft2, rfft2
from scipy.ndimage import gaussian_filter

# Movements up to this part of the longer side are taken out before two pictures are compared.
ALIGNED_PARTS = 0.06
# Variance of grey (full scale 1) under which a picture is as good as flat: a deviation of 2 %.
_FLAT = 0.0005
# A change of mean grey by a quarter of the scale, or more, takes at most this part off the likeness.
_LEVEL_WEIGHT, _LEVEL_FULL = 0.3, 0.25
# Detail finer than about four pixels is noise more than picture (cycles per pixel; Gaussian).
_CUTOFF = 0.15


@dataclass(frozen=True, slots=True)
class Shift:
    """Movement of the whole picture in pixels, rightwards and downwards.

    `sureness` goes from 1 (the same picture, moved) to about 0.08 (nothing in common).
    """

    right_px: float
    down_px: float
    sureness: float


def shift_between(before: NDArray[np.float32], after: NDArray[np.float32]) -> Shift:
    """Where the content of `before` has gone in `after`; both (height, width), of one shape.

    Phase correlation (C. D. Kuglin and D. C. Hines, 1975) under a Hann window, with fine detail weighed
    down and the peak placed between pixels by a parabola.
    """
    height, width = before.shape
    window = np.outer(_hann(height), _hann(width)).astype(np.float32)
    first = rfft2((before - before.mean()) * window)
    second = rfft2((after - after.mean()) * window)
    cross = np.asarray(first).conj() * np.asarray(second)
    strength = np.abs(cross)
    down, right = np.fft.fftfreq(height)[:, None], np.fft.rfftfreq(width)[None, :]
    weight = np.exp(-(down**2 + right**2) / (2 * _CUTOFF**2))
    # What has next to no energy has no phase either; the floor keeps it from counting.
    floor = 0.05 * strength.mean() + 1e-9
    surface = np.asarray(irfft2(cross / (strength + floor) * weight, before.shape))
    best = float(np.asarray(irfft2(strength / (strength + floor) * weight, before.shape))[0, 0])
    row, column = (int(index) for index in np.unravel_index(int(surface.argmax()), surface.shape))
    return Shift(
        right_px=_peak(surface[row], column),
        down_px=_peak(surface[:, column], row),
        sureness=float(surface[row, column]) / best if best > 1e-9 else 0.0,
    )


def unlikeness(before: NDArray[np.float32], after: NDArray[np.float32], shift: Shift | None = None) -> float:
    """How much a jump from one picture to the other shows: 0 the same picture, about 1 nothing shared.

    Both (height, width), 0 to 1, some 160 pixels wide. A small movement of the whole picture (`shift`,
    found when not given) is taken out; a change of brightness alone counts for 0.3 at most. Otherwise it
    is 1 less the contrast-structure term of SSIM (Z. Wang and others, 2004) over the whole picture.
    Pictures of two shapes count as 1.
    """
    if before.shape != after.shape:
        return 1.0
    level = min(1.0, abs(float(before.mean()) - float(after.mean())) / _LEVEL_FULL)
    shift = shift_between(before, after) if shift is None else shift
    soft_before, soft_after = gaussian_filter(before, 1.0), gaussian_filter(after, 1.0)
    alike = _structure(soft_before, soft_after)
    right, down = round(shift.right_px), round(shift.down_px)
    if 0 < max(abs(right), abs(down)) <= ALIGNED_PARTS * max(before.shape):
        alike = max(alike, _structure(_kept(soft_before, -right, -down), _kept(soft_after, right, down)))
    return 1.0 - alike * (1.0 - _LEVEL_WEIGHT * level)


def _hann(length: int) -> NDArray[np.float64]:
    return np.hanning(length + 2)[1:-1]


def _peak(line: NDArray[np.floating], index: int) -> float:
    """The top of the parabola through a peak and its neighbours, counted from 0 both ways round."""
    length = line.size
    left, top, right = (float(line[(index + step) % length]) for step in (-1, 0, 1))
    bend = left - 2 * top + right
    place = index + (0.5 * (left - right) / bend if bend < 0 else 0.0)
    return place - length if place > length / 2 else place


def _kept(picture: NDArray[np.float32], right: int, down: int) -> NDArray[np.float32]:
    """The part of a picture that is still there `right` and `down` pixels on."""
    height, width = picture.shape
    return picture[max(0, down) : height + min(0, down), max(0, right) : width + min(0, right)]


def _structure(before: NDArray[np.float32], after: NDArray[np.float32]) -> float:
    first, second = before - before.mean(), after - after.mean()
    together = 2 * float((first * second).mean()) + _FLAT
    return min(1.0, max(0.0, together / (float((first**2).mean()) + float((second**2).mean()) + _FLAT)))
