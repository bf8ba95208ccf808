"""Room tone for a hole keeps off the words on both sides of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from mltassist import findings
from mltassist.frames import Span
from mltassist.joins import roomtone
from mltassist.media.sound.speech import HOP, RATE_HZ
from mltassist.recipe.rules import MendRules, Recipe
from mltassist.rushes.find import begin, find
from mltassist.timeline.model import Clip, Source, SourceKind
from tests.timeline.films import row, timeline, track

FPS, SECONDS = 25, 20
WORD = Span(252, 277)
CLEAR = 5
"""Frames that room tone keeps from a word: a fifth of a second."""
HOLE = 7
TONE = HOLE + roomtone.LEAD + roomtone.TRAIL


class Told:
    """A detector that is told where the word is."""

    name = "told"

    def probability(self, mono: np.ndarray) -> np.ndarray:
        """One, while the loud part of the recording plays."""
        blocks = [mono[at : at + HOP] for at in range(0, len(mono), HOP)]
        return np.array([float(np.abs(block).max() > 0.1) for block in blocks], np.float32)


@pytest.mark.parametrize("side", ["before", "after"])
def test_the_quiet_right_beside_a_word_is_no_room_tone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, side: str
) -> None:
    """The room grows the quieter the nearer the word is, on one side of it: as near as may be is taken."""
    seconds = np.arange(SECONDS * RATE_HZ) / RATE_HZ
    from_word_s = (WORD.start / FPS - seconds) if side == "before" else (seconds - WORD.end / FPS)
    room_db = np.where(from_word_s > 0, -60 + np.minimum(2 * from_word_s, 10), -40)
    sound = 10 ** (room_db / 20) * np.sin(2 * np.pi * 300 * seconds)
    frame = RATE_HZ // FPS
    sound[WORD.start * frame : WORD.end * frame] *= 50
    soundfile.write(tmp_path / "talk.wav", sound, RATE_HZ, subtype="FLOAT")
    path = tmp_path / "talk.wav"
    source = Source(str(path), SourceKind.FILE, path, SECONDS * FPS, has_picture=False)
    bites = row(("talk", 50, 0), (None, HOLE), ("talk", 50, 400))
    items = [replace(item, source=source) if isinstance(item, Clip) else item for item in bites]
    monkeypatch.setattr(findings, "default_detector", Told)
    film = timeline(track(1, "Interview", items, sound=True))
    found = find(film, begin(film, Recipe(mend=MendRules(room_tone=True))))
    (edit,) = roomtone.tone_edits(found)
    laid = Span(edit.source_in, edit.source_in + edit.length)
    assert laid.length == TONE
    apart = WORD.start - laid.end if side == "before" else laid.start - WORD.end
    assert CLEAR <= apart <= CLEAR + 7  # starts are tried every six frames, words found to one
