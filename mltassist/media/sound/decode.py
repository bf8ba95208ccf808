"""Sound out of media files, sample accurate, and the folds to two channels and to one.

Time 0 is the start of the container's timeline (see `media.streams`). Reads of the same samples agree
whatever range they are part of, except for what the codec itself keeps in memory beyond the pre-roll.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, gcd
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.sound.filters import resampled
from mltassist.media.sound.recordings import recording_of

MIX_HZ = 48000
"""The rate at which films are mixed: the only one for which BS.1770 tables its filter."""
_EQUAL_POWER = np.float32(0.5**0.5)


def read_sound(
    path: Path, start: int, count: int, *, rate_hz: int = MIX_HZ, stream: int = 0, mono: bool = False
) -> NDArray[np.float32]:
    """Samples `start` to `start + count` of sound stream number `stream`: float32 (channels, count).

    `start` and `count` are in samples at `rate_hz` from time 0 of the file; what lies outside the
    file is silent. Other native rates are resampled by a zero-phase filter on the grid of time 0, so
    the delay is exactly none. mono: the plain mean of all channels, (1, count): see `as_mono`.

    Raises SourceMissing when there is no file, MediaError when it or the stream cannot be read.
    """
    recording = recording_of(path, stream)
    wanted = Span(start, start + count)

    def read(span: Span) -> NDArray[np.float32]:
        sound = recording.read(span)
        return as_mono(sound) if mono else sound

    if recording.rate_hz == rate_hz:
        return read(wanted)
    common = gcd(recording.rate_hz, rate_hz)
    up, down = rate_hz // common, recording.rate_hz // common
    # The filter reaches 10 * max(up, down) steps of the common grid to each side of a sample.
    margin = ceil(Fraction(10 * max(up, down), up)) + 2
    # A multiple of `down` native samples is a whole number of wanted ones: no fraction is lost.
    periods = (wanted.start * down // up - margin) // down
    needed = Span(periods * down, ceil(Fraction(wanted.end * down, up)) + margin)
    sound = resampled(read(needed), up, down)
    skip = wanted.start - periods * up
    return np.ascontiguousarray(sound[:, skip : skip + wanted.length], dtype=np.float32)


def as_stereo(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """Fold (channels, n) to (2, n).

    Mono goes to both sides at 1/sqrt(2) (-3.01 dB), as the engine plays it; stereo stays. More
    channels, in the order L R C (LFE) Ls Rs, follow the downmix of ITU-R BS.775-3 Annex 4:
    L' = L + 0.7071 C + 0.7071 Ls, R' alike, LFE left out, with no overall attenuation. Four
    channels are L R Ls Rs; three are L R C; channels past the sixth are left out.
    """
    channels = sound.shape[0]
    if channels == 1:
        return np.repeat(sound * _EQUAL_POWER, 2, axis=0)
    if channels == 2:
        return sound
    front = sound[:2]
    if channels == 3:
        return front + _EQUAL_POWER * sound[2:3]
    if channels == 4:
        return front + _EQUAL_POWER * sound[2:4]
    surround = sound[3:5] if channels == 5 else sound[4:6]
    return front + _EQUAL_POWER * (sound[2:3] + surround)


def as_mono(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """The plain mean of all channels, (1, n): for analysis, not for listening."""
    return np.asarray(sound.mean(axis=0, keepdims=True), np.float32)
