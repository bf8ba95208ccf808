"""A second of a recording sounds the same whatever was asked for before it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mltassist.frames import Span
from mltassist.media.sound import shelf
from mltassist.media.sound.recordings import ENTRY_S, recording_of
from tests.cli.films import EXAMPLE

AAC = EXAMPLE / "media" / "narration" / "narrator.m4a"


@pytest.fixture
def fresh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A way to forget all that was decoded so far."""
    shelves: list[shelf.Shelf] = []

    def forget() -> None:
        shelves.append(shelf.Shelf(tmp_path))
        monkeypatch.setattr(shelf, "_shelves", shelves[-1:])
        monkeypatch.setattr("mltassist.media.sound.recordings._known", {})

    yield forget
    for one in shelves:
        one.close()


@pytest.mark.parametrize(("first", "last"), [(17, 25), (ENTRY_S, ENTRY_S + 3), (2 * ENTRY_S - 5, 39)])
def test_what_was_read_before_changes_no_bit(fresh, first: int, last: int) -> None:
    fresh()
    recording = recording_of(AAC, 0)
    wanted = Span(first * recording.rate_hz, last * recording.rate_hz)
    everything = recording.read(Span(0, 39 * recording.rate_hz))[:, wanted.start : wanted.end]
    fresh()
    alone = recording_of(AAC, 0).read(wanted)
    assert np.abs(alone).max() > 0.01
    assert np.array_equal(alone, everything)
    fresh()
    recording = recording_of(AAC, 0)
    later = recording.read(Span(wanted.end - recording.rate_hz, wanted.end))
    assert np.array_equal(recording.read(wanted)[:, -recording.rate_hz :], later)
