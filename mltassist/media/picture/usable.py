"""What the look of a clip is worth to an editor: where it can be used, and where it is best.

Open limits and weights, all here. They tell pictures that no editor would use from those that can be
used; they know nothing of beauty.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from mltassist.frames import Rate, Span, joined, without
from mltassist.media.picture.looks import Look

_Values = NDArray[np.float32] | float

# Share of black or burnt pixels that spoils a picture.
CLIPPED_LIMIT = 0.5
# Mean grey outside which a picture is too dark or too bright, and inside which it is right.
DARK_LIMIT, DARK_FINE, BRIGHT_FINE, BRIGHT_LIMIT = 0.08, 0.25, 0.75, 0.92
# Sharpness under which a picture is blurred, also in parts of the clip's upper quartile; and full marks.
BLUR_LIMIT, BLUR_PARTS, SHARP_FINE = 0.13, 0.45, 0.40
# Shake at 25 frames a second, in parts of the picture width: lasting (median of 0.4 s), and one jolt.
SHAKE_LIMIT, JOLT_LIMIT = 0.012, 0.03
# How much each quality counts in `worth`; together 1.
SHARP_WEIGHT, STEADY_WEIGHT, EXPOSED_WEIGHT = 0.35, 0.35, 0.3


def spoiled(look: Look) -> NDArray[np.bool_]:
    """The samples no editor would use, (n,): black, badly exposed, blurred or shaken. Splices apart."""
    lasting, limit = _lasting_shake(look), _by_rate(SHAKE_LIMIT, look.rate)
    blur = max(BLUR_LIMIT, BLUR_PARTS * float(np.percentile(look.sharpness, 75)))
    exposed = (look.brightness >= DARK_LIMIT) & (look.brightness <= BRIGHT_LIMIT)
    exposed &= look.clipped <= CLIPPED_LIMIT
    steady = (lasting <= limit) & (look.shake <= _by_rate(JOLT_LIMIT, look.rate))
    return look.black | ~exposed | ~steady | (look.sharpness < blur)


def worth(look: Look) -> NDArray[np.float32]:
    """How good each sample is, 0 to 1, (n,): weighted mean of sharp, steady and exposed; 0 if spoiled.

    Each quality goes in a straight line from 0 at its limit to 1 where it is fine.
    """
    sharp = _sharp(look.sharpness)
    steady = np.clip(1 - _lasting_shake(look) / _by_rate(SHAKE_LIMIT, look.rate), 0, 1)
    exposed = _exposed(look.brightness, look.clipped)
    total = SHARP_WEIGHT * sharp + STEADY_WEIGHT * steady + EXPOSED_WEIGHT * exposed
    return np.where(spoiled(look), 0, total).astype(np.float32)


def still_worth(sharpness: float, brightness: float, clipped: float, black: bool) -> float:
    """What one picture is worth by itself, 0 to 1: `worth` without its steadiness."""
    outside = not DARK_LIMIT <= brightness <= BRIGHT_LIMIT or clipped > CLIPPED_LIMIT
    if black or outside or sharpness < BLUR_LIMIT:
        return 0.0
    total = SHARP_WEIGHT * _sharp(sharpness) + EXPOSED_WEIGHT * _exposed(brightness, clipped)
    return float(total / (SHARP_WEIGHT + EXPOSED_WEIGHT))


def _sharp(sharpness: _Values) -> NDArray[Any]:
    return np.asarray(np.clip((sharpness - BLUR_LIMIT) / (SHARP_FINE - BLUR_LIMIT), 0, 1))


def _exposed(brightness: _Values, clipped: _Values) -> NDArray[Any]:
    dark = (brightness - DARK_LIMIT) / (DARK_FINE - DARK_LIMIT)
    bright = (BRIGHT_LIMIT - brightness) / (BRIGHT_LIMIT - BRIGHT_FINE)
    lit = np.clip(np.minimum(dark, bright), 0, 1)
    return np.asarray(lit * np.clip(1 - clipped / CLIPPED_LIMIT, 0, 1))


def usable_spans(look: Look, at_least: int) -> tuple[Span, ...]:
    """Stretches of `at_least` frames or more with nothing spoiled and no splice inside, in order.

    They keep one frame away from a splice on both sides, since the pictures next to one may be blends.
    """
    ends = [*(int(frame) for frame in look.frames[1:]), int(look.frames[-1]) + look.step]
    covered = [Span(int(frame), end) for frame, end in zip(look.frames, ends, strict=True)]
    bad = [span for span, off in zip(covered, spoiled(look), strict=True) if off]
    # Between two bad pictures a fifth of a second apart nothing can be used either.
    holes = joined(bad, bridge=look.rate.nominal // 5)
    cuts = [Span(int(frame) - look.step, int(frame) + 1) for frame in look.frames[look.splice]]
    return tuple(span for span in without(covered, (*holes, *cuts)) if span.length >= at_least)


def _by_rate(limit: float, rate: Rate) -> float:
    """A limit for one frame's time at 25 a second, at this rate."""
    return limit * float(25 / rate.fraction)


def _lasting_shake(look: Look) -> NDArray[np.float32]:
    # A median: a pan that starts or stops is one step of shake, and the edges of a shaken stretch stay.
    reach = max(1, look.rate.nominal // (5 * look.step))
    return np.asarray(median_filter(look.shake, size=2 * reach + 1, mode="nearest"), np.float32)
