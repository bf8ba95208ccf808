"""How a clip's picture looks over time: sharp, exposed, steady, and where it is cut inside.

Plain measures of each picture and of its movement against the one before; nothing is learnt. What they
are worth is judged elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter

from mltassist.errors import MediaError
from mltassist.frames import Rate, Span
from mltassist.media.cache import Analysis, Arrays, remembered
from mltassist.media.picture.likeness import shift_between, unlikeness
from mltassist.media.picture.thumbnails import Picture, each_picture

LOOK = Analysis("look", 2)
# Blur is measured at this size (longer side, pixels), movement at half of it.
LOOK_SIDE = 320

# Grey levels (0 to 1) past which a pixel holds no detail.
BLACK_LEVEL, BURNT_LEVEL = 0.025, 0.975
# A picture is black when this share of it is darker than the level (video noise included).
BLACK_PICTURE_LEVEL, BLACK_PICTURE_SHARE = 0.08, 0.98
# A splice is unlike the picture before it by this much and by this ratio to the pictures around: either
# small but sudden (a jump inside one shot), or large, and then nothing moved across.
JUMP_LEAST, JUMP_RATIO = 0.06, 4.0
CUT_LEAST, CUT_RATIO, CUT_SURENESS = 0.5, 2.0, 0.2
_AROUND = 8  # pictures to each side
# Mean difference of grey under which a picture is the one before it, stored again.
_REPEATED, _REPEATS = 1 / 2000, 2
# Under this sureness a movement is a guess.
_FOLLOWED = 0.15


@dataclass(frozen=True, slots=True)
class Look:
    """Measures at the sampled `frames` (n,), every `step`-th at the project's `rate`.

    `sharpness` 0 to 1: the part of the detail lost by a further blur, near 0.45 in focus, under 0.13
    blurred (noise counts as detail). `brightness`: mean grey, 0 to 1. `clipped`: share of pixels black or
    burnt, bars left out. `motion` (n, 2): movement of the whole picture rightwards and downwards, in
    parts of the picture width per frame. `shake`: change of `motion` from one step to the next, so that a
    steady pan has none. `change`: how unlike the sample before each is once that movement is taken out, 0 to
    1; none at a splice. `splice`: a hard cut lies right before the frame. `black`: the picture is black.
    """

    rate: Rate
    step: int
    frames: NDArray[np.int64]
    sharpness: NDArray[np.float32]
    brightness: NDArray[np.float32]
    clipped: NDArray[np.float32]
    motion: NDArray[np.float32]
    shake: NDArray[np.float32]
    change: NDArray[np.float32]
    splice: NDArray[np.bool_]
    black: NDArray[np.bool_]


def look(path: Path, frames: Span, rate: Rate, *, step: int = 1) -> Look:
    """Measure the picture over `frames` of the file, counted at the project's `rate`; remembered.

    With a `step` over 1 a splice is placed at the first sample after it. Frames past the last picture
    are left out. Raises SourceMissing when there is no file, MediaError when it cannot be read or has no
    picture there.
    """
    parameters = (
        ("start", frames.start),
        ("end", frames.end),
        ("rate", str(rate.fraction)),
        ("step", step),
    )
    found = remembered(
        path,
        Analysis(LOOK.name, LOOK.version, parameters),
        lambda: _looked(path, frames, rate, step),
    )
    return Look(rate, step, **{field.name: found[field.name] for field in fields(Look)[2:]})


@dataclass(frozen=True, slots=True)
class _Measures:
    """One picture of the file; `unlike`, `sureness` and the movement are against the one before it."""

    first: int
    last: int
    sharpness: float
    brightness: float
    clipped: float
    black: bool
    right: float
    down: float
    sureness: float
    unlike: float
    unlike_second: float


def _looked(path: Path, frames: Span, rate: Rate, step: int) -> Arrays:
    rows = list(_measured(path, frames, rate, step))
    if not rows:
        what = f"it has no picture between frames {frames.start} and {frames.end}; check the clip's length"
        raise MediaError(path, what)
    numbers = [range(frames.start + -(-(r.first - frames.start) // step) * step, r.last, step) for r in rows]
    shown = np.repeat(np.arange(len(rows)), [len(each) for each in numbers])
    new = np.diff(shown, prepend=-1) > 0

    def column(name: str) -> NDArray[Any]:
        return np.array([getattr(row, name) for row in rows])

    splice = _splices(column("unlike"), column("unlike_second"), column("sureness"))
    motion = np.stack((column("right"), column("down")), axis=1)
    sure = column("sureness") >= _FOLLOWED
    shake = np.zeros(len(rows))
    followed = False  # since the last splice
    for place in range(1, len(rows)):
        if splice[place]:
            motion[place], followed = 0, False
        elif not sure[place]:
            # Held, or not to be followed: taken to go on as before.
            motion[place] = motion[place - 1]
        else:
            if followed:
                shake[place] = np.hypot(*(motion[place] - motion[place - 1]))
            followed = True
    return {
        "frames": np.concatenate([np.array(each, np.int64) for each in numbers]),
        **{name: column(name).astype(np.float32)[shown] for name in ("sharpness", "brightness", "clipped")},
        "motion": motion.astype(np.float32)[shown],
        "shake": shake.astype(np.float32)[shown],
        "change": np.where(splice, 0, column("unlike")).astype(np.float32)[shown],
        "splice": splice[shown] & new,
        "black": column("black").astype(np.bool_)[shown],
    }


def _splices(unlike: NDArray[Any], second: NDArray[Any], sureness: NDArray[Any]) -> NDArray[np.bool_]:
    """Where a hard cut lies right before a picture, (n,); `second` is against the picture two before."""
    found = np.zeros(unlike.size, np.bool_)
    for place in range(1, unlike.size):
        low = max(1, place - _AROUND)
        around = np.concatenate((unlike[low:place], unlike[place + 1 : place + 1 + _AROUND]))
        usual, high = np.percentile(around, (50, 85)) if around.size else (0.0, 0.0)
        here = unlike[place]
        sudden = here >= max(JUMP_LEAST, JUMP_RATIO * high)
        cut = here >= max(CUT_LEAST, CUT_RATIO * usual) and sureness[place] <= CUT_SURENESS
        # After a flash of light or a damaged picture the old view is back: no splice.
        across = [second[place]] if place > 1 else []
        across += [second[place + 1]] if place + 1 < unlike.size else []
        found[place] = (sudden or cut) and min(across, default=here) >= here / 2
    return found


def _measured(path: Path, frames: Span, rate: Rate, step: int) -> Iterator[_Measures]:
    older: Picture | None = None
    before: Picture | None = None
    repeats, moved_from, last_unlike = 0, 0.0, 0.0
    for shown in each_picture(path, frames, rate, step=step, side=LOOK_SIDE):
        small, place = _halved(shown.picture), float(shown.place)
        right = down = unlike = 0.0
        second = 1.0
        sureness = 1.0
        if before is None or before.shape != small.shape:
            older, moved_from, sureness = None, place, 0.0
            unlike = 0.0 if before is None else 1.0
        elif repeats < _REPEATS and float(np.abs(small - before).mean()) < _REPEATED:
            repeats, sureness = repeats + 1, 0.0
        else:
            shift = shift_between(before, small)
            unlike, sureness, repeats = unlikeness(before, small, shift), shift.sureness, 0
            per_step = small.shape[1] * max(place - moved_from, 1e-6)
            right, down, moved_from = shift.right_px / per_step, shift.down_px / per_step, place
        # Wanted only about a possible splice.
        if older is not None and max(unlike, last_unlike) >= JUMP_LEAST:
            second = unlikeness(older, small)
        sharpness, brightness, clipped, black = still_look(shown.picture)
        yield _Measures(
            first=shown.frames.start,
            last=shown.frames.end,
            sharpness=sharpness,
            brightness=brightness,
            clipped=clipped,
            black=black,
            right=right,
            down=down,
            sureness=sureness,
            unlike=unlike,
            unlike_second=second,
        )
        older, before, last_unlike = before, small, unlike


def still_look(picture: Picture) -> tuple[float, float, float, bool]:
    """Sharpness, brightness, clipped and black of one picture, as in `Look`."""
    black = bool((picture < BLACK_PICTURE_LEVEL).mean() >= BLACK_PICTURE_SHARE)
    return _sharpness(picture), float(picture.mean()), _clipped(_without_bars(picture)), black


def _halved(picture: Picture) -> Picture:
    """The mean of every two by two pixels, where the picture is large enough to spare them."""
    height, width = picture.shape[0] // 2 * 2, picture.shape[1] // 2 * 2
    if max(height, width) < LOOK_SIDE * 5 // 8 or min(height, width) < 4:
        return picture
    even = picture[:height, :width]
    return np.asarray((even[::2, ::2] + even[1::2, ::2] + even[::2, 1::2] + even[1::2, 1::2]) / 4, np.float32)


def _sharpness(picture: Picture) -> float:
    """The part of the steps between pixels (root mean square) that a blur of 3 by 3 takes away.

    The idea of F. Crete and others, "The blur effect" (2007): blur changes a blurred picture little.
    """
    steps = _steps(picture)
    return (
        1 - _steps(np.asarray(uniform_filter(picture, 3), np.float32)) / (steps + 1e-4)
        if steps > 1e-4
        else 0.0
    )


def _steps(picture: Picture) -> float:
    across, down = np.diff(picture, axis=1), np.diff(picture, axis=0)
    return float((across**2).mean() + (down**2).mean()) ** 0.5 if min(picture.shape) > 1 else 0.0


def _without_bars(picture: Picture) -> Picture:
    """The picture inside black bars at its edges; all of it when it is black."""
    lit = picture > BLACK_PICTURE_LEVEL
    rows, columns = np.flatnonzero(lit.any(axis=1)), np.flatnonzero(lit.any(axis=0))
    return picture[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] if rows.size else picture


def _clipped(picture: Picture) -> float:
    return float(((picture < BLACK_LEVEL) | (picture > BURNT_LEVEL)).mean())
