"""Pieces of a recording: the same for whoever asks, cut where it is quiet."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import soundfile

from mltassist.frames import Span
from mltassist.media.words.interface import RATE_HZ
from mltassist.media.words.pieces import PIECE, REACH, pieces


def recording(folder: Path, seconds: int, pauses: list[float]) -> Path:
    """Noise with pauses of 0.3 s at these seconds."""
    sound = np.random.default_rng(5).normal(0, 0.1, seconds * RATE_HZ).astype(np.float32)
    for at in pauses:
        sound[round(at * RATE_HZ) : round((at + 0.3) * RATE_HZ)] *= 0.01
    path = folder / "talk.wav"
    soundfile.write(path, sound, RATE_HZ)
    return path


def test_pieces_lie_edge_to_edge_and_are_cut_in_pauses(tmp_path: Path) -> None:
    path = recording(tmp_path, 100, [28.0, 61.5, 91.2])
    found = list(pieces(path, Span(0, 100 * RATE_HZ)))
    assert found[0].start == 0
    assert all(a.end == b.start for a, b in pairwise(found))
    for span, pause in zip(found, (28.0, 61.5, 91.2), strict=False):
        assert pause <= span.end / RATE_HZ <= pause + 0.3


def test_any_part_asks_for_the_same_pieces(tmp_path: Path) -> None:
    path = recording(tmp_path, 100, [28.0, 61.5, 91.2])
    whole = list(pieces(path, Span(0, 100 * RATE_HZ)))
    for start in range(0, 95 * RATE_HZ, 7 * RATE_HZ + 123):
        wanted = Span(start, start + 5 * RATE_HZ)
        part = list(pieces(path, wanted))
        assert part == [span for span in whole if span.overlaps(wanted)]


def test_a_steady_sound_is_cut_near_the_marks(tmp_path: Path) -> None:
    path = tmp_path / "silence.wav"
    soundfile.write(path, np.zeros(100 * RATE_HZ, np.float32), RATE_HZ)
    ends = [span.end for span in pieces(path, Span(0, 90 * RATE_HZ))]
    assert all(abs(end - (number + 1) * PIECE) < RATE_HZ // 20 for number, end in enumerate(ends))
    assert REACH * 2 < PIECE  # edges cannot meet
