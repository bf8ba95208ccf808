"""Pieces of a recording: the same for whoever asks, cut where it is quiet."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import soundfile

from mltassist.frames import Span
from mltassist.media.words.interface import WORDS_HZ
from mltassist.media.words.pieces import PIECE, PIECE_REACH, pieces


def recording(folder: Path, seconds: int, pauses: list[float]) -> Path:
    """Noise with pauses of 0.3 s at these seconds."""
    sound = np.random.default_rng(5).normal(0, 0.1, seconds * WORDS_HZ).astype(np.float32)
    for at in pauses:
        sound[round(at * WORDS_HZ) : round((at + 0.3) * WORDS_HZ)] *= 0.01
    path = folder / "talk.wav"
    soundfile.write(path, sound, WORDS_HZ)
    return path


def test_pieces_lie_edge_to_edge_and_are_cut_in_pauses(tmp_path: Path) -> None:
    path = recording(tmp_path, 100, [28.0, 61.5, 91.2])
    found = list(pieces(path, Span(0, 100 * WORDS_HZ)))
    assert found[0].start == 0
    assert all(a.end == b.start for a, b in pairwise(found))
    for span, pause in zip(found, (28.0, 61.5, 91.2), strict=False):
        assert pause <= span.end / WORDS_HZ <= pause + 0.3


def test_any_part_asks_for_the_same_pieces(tmp_path: Path) -> None:
    path = recording(tmp_path, 100, [28.0, 61.5, 91.2])
    whole = list(pieces(path, Span(0, 100 * WORDS_HZ)))
    for start in range(0, 95 * WORDS_HZ, 7 * WORDS_HZ + 123):
        wanted = Span(start, start + 5 * WORDS_HZ)
        part = list(pieces(path, wanted))
        assert part == [span for span in whole if span.overlaps(wanted)]


def test_a_steady_sound_is_cut_near_the_marks(tmp_path: Path) -> None:
    path = tmp_path / "silence.wav"
    soundfile.write(path, np.zeros(100 * WORDS_HZ, np.float32), WORDS_HZ)
    ends = [span.end for span in pieces(path, Span(0, 90 * WORDS_HZ))]
    assert all(abs(end - (number + 1) * PIECE) < WORDS_HZ // 20 for number, end in enumerate(ends))
    assert PIECE_REACH * 2 < PIECE  # edges cannot meet
