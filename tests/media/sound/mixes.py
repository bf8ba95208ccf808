"""A film's mix in one piece, and its true peak, as tests look into them."""

from __future__ import annotations

import numpy as np
from scipy.signal import resample_poly

from mltassist.frames import Span
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.mix import mix_blocks
from mltassist.media.sound.recordings import Sound
from mltassist.timeline.model import Timeline


def film_mix(timeline: Timeline, span: Span | None = None) -> Sound:
    """All that is heard over the frames `span`, else over the whole film: what is measured part by part."""
    whole = np.concatenate(list(mix_blocks(timeline)), axis=1)
    ends = (0, timeline.length) if span is None else (span.start, span.end)
    first, last = (timeline.rate.samples(frame, MIX_HZ) for frame in ends)
    return whole[:, first:last]


def oversampled_dbtp(sound: np.ndarray) -> float:
    """The true peak of a whole sound, every gap between its samples looked at (BS.1770-4 Annex 2)."""
    return float(20 * np.log10(np.abs(resample_poly(sound, 4, 1, axis=1)).max()))
