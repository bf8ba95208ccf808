"""Sound made small for listening: Opus in WebM, which browsers play from a page."""

from __future__ import annotations

import io
from fractions import Fraction

import numpy as np

from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.recordings import Sound

RATE_BPS = 40_000
"""Bits a second of one channel: speech is then not told from the original (the codec's own listening tests,
from memory), and the room behind it still sounds like itself."""
TYPE = "audio/webm"


def webm(sound: Sound, *, rate_bps: int = RATE_BPS) -> bytes:
    """Sound as one channel of Opus in WebM: shape (channels, samples) at 48 kHz, full scale ±1.0.

    The file tells its duration. Sound without samples gives a file with none.
    """
    import av  # noqa: PLC0415 - heavy, and wanted only where a page is made

    target = io.BytesIO()
    mono = sound.mean(axis=0, keepdims=True).clip(-1, 1)
    with av.open(target, "w", format="webm") as container:
        stream = container.add_stream("libopus", rate=MIX_HZ, layout="mono", bit_rate=rate_bps)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(mono, np.float32), "fltp", "mono")
        frame.sample_rate, frame.time_base, frame.pts = MIX_HZ, Fraction(1, MIX_HZ), 0
        resampler = av.AudioResampler("flt", "mono", MIX_HZ, frame_size=stream.codec_context.frame_size)
        for part in [*resampler.resample(frame), *resampler.resample(None)] if mono.size else []:
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))
    return target.getvalue()
