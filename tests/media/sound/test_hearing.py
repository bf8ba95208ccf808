"""What is heard on a timeline, with a detector that hears exactly what was planted."""

from __future__ import annotations

from math import inf
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from numpy.typing import NDArray

from mltassist.frames import Rate, Span, joined
from mltassist.media.sound import hearing
from mltassist.media.sound.decode import MIX_HZ
from mltassist.media.sound.hearing import passage_level, speech_on_timeline
from mltassist.media.sound.speech import HOP, RATE_HZ, EnergyDetector, fine_levels_db, sharpened, speech_spans
from mltassist.timeline.model import Clip, Source, SourceKind, Track, TrackKind

PAL = Rate(25)
VOICE = Track(1, TrackKind.SOUND, "Narration")


class Loud:
    """Takes every block that is loud for speech."""

    name = "loud"

    def probability(self, mono: NDArray[np.float32]) -> NDArray[np.float32]:
        blocks = np.zeros(-(-mono.size // HOP) * HOP, np.float32)
        blocks[: mono.size] = mono
        level = np.abs(blocks.reshape(-1, HOP)).max(axis=1)
        return np.asarray(level > 0.05, np.float32)


def spoken(folder: Path, *words_s: tuple[float, float], seconds: int = 20, hz: int = RATE_HZ) -> Source:
    """A file of faint hiss in which a buzz stands for each word."""
    rng = np.random.default_rng(2)
    sound = 1e-4 * rng.standard_normal(seconds * hz)
    for start, end in words_s:
        part = slice(int(start * hz), int(end * hz))
        sound[part] += 0.2 * np.sin(2 * np.pi * 440 * np.arange(part.stop - part.start) / hz)
    path = folder / "voice.wav"
    soundfile.write(path, sound.astype(np.float32), hz, subtype="FLOAT")
    return Source(str(path), SourceKind.FILE, path, seconds * 25)


def test_words_are_found_at_their_place_on_the_timeline(tmp_path: Path) -> None:
    source = spoken(tmp_path, (4.0, 6.0), (9.0, 11.0))
    (first, second) = speech_on_timeline([(VOICE, Clip(1000, 250, source, 50))], PAL, Loud())
    for found, expected in ((first, Span(1050, 1100)), (second, Span(1175, 1225))):
        assert abs(found.start - expected.start) <= 1
        assert abs(found.end - expected.end) <= 1


def test_a_word_that_is_cut_by_its_clip_lasts_to_the_edge(tmp_path: Path) -> None:
    source = spoken(tmp_path, (4.0, 6.0))
    assert speech_on_timeline([(VOICE, Clip(0, 25, source, 110))], PAL, Loud()) == (Span(0, 25),)


def test_speech_just_outside_the_clip_is_not_told(tmp_path: Path) -> None:
    source = spoken(tmp_path, (4.0, 5.0))
    assert speech_on_timeline([(VOICE, Clip(0, 100, source, 130))], PAL, Loud()) == ()


def test_speech_of_two_clips_is_joined(tmp_path: Path) -> None:
    source = spoken(tmp_path, (4.0, 6.0))
    clips = [(VOICE, Clip(0, 25, source, 110)), (VOICE, Clip(25, 15, source, 110))]
    assert speech_on_timeline(clips, PAL, Loud()) == (Span(0, 40),)


def test_files_that_are_not_there_hold_no_speech_and_are_told(tmp_path: Path) -> None:
    gone = tmp_path / "gone.wav"
    clip = Clip(0, 50, Source(str(gone), SourceKind.FILE, gone), 0)
    told: list[Path] = []
    found = speech_on_timeline(
        [(VOICE, clip), (VOICE, Clip(0, 50, Source("black", SourceKind.COLOUR), 0))],
        PAL,
        Loud(),
        on_missing=lambda path, _: told.append(path),
    )
    assert found == ()
    assert told == [gone]


def test_the_loudness_of_a_passage_agrees_with_an_independent_meter(tmp_path: Path) -> None:
    """The reference is pyloudnorm, another implementation of BS.1770."""
    rng = np.random.default_rng(4)
    sound = (rng.standard_normal((10 * MIX_HZ, 2)) * np.linspace(0.02, 0.2, 10 * MIX_HZ)[:, None]).astype(
        np.float32
    )
    path = tmp_path / "hiss.wav"
    soundfile.write(path, sound, MIX_HZ, subtype="FLOAT")
    clip = Clip(100, 250, Source(str(path), SourceKind.FILE, path, 250), 0)
    found = passage_level([(VOICE, clip)], Span(150, 250), PAL).lufs
    expected = pyloudnorm.Meter(MIX_HZ).integrated_loudness(sound[2 * MIX_HZ : 6 * MIX_HZ].astype(np.float64))
    assert found == pytest.approx(expected, abs=0.1)


def test_a_passage_shorter_than_a_gating_block_is_measured_whole(tmp_path: Path) -> None:
    time = np.arange(2 * MIX_HZ) / MIX_HZ
    tone = (0.1 * np.sin(2 * np.pi * 997 * time)).astype(np.float32)
    path = tmp_path / "tone.wav"
    soundfile.write(path, np.stack([tone, tone], 1), MIX_HZ, subtype="FLOAT")
    clip = Clip(0, 50, Source(str(path), SourceKind.FILE, path, 50), 0)
    # A tone of peak 0.1 on both sides is -20 LUFS (BS.1770: 0 dBFS at 997 Hz on one side is -3.01).
    assert passage_level([(VOICE, clip)], Span(10, 19), PAL).lufs == pytest.approx(-20.0, abs=0.5)
    assert passage_level([(VOICE, clip)], Span(60, 69), PAL).lufs == -inf
    assert passage_level([(VOICE, clip)], Span(60, 200), PAL).lufs == -inf
    assert passage_level([], Span(0, 100), PAL).lufs == -inf


def test_a_long_recording_is_heard_in_parts_as_it_is_whole(tmp_path: Path) -> None:
    # Half an hour would do the same; two and a half minutes cross the edge of a part as well.
    words = [(at, at + 0.3 + (at % 7) / 10) for at in np.arange(0.4, 149, 1.37)]
    words += [(59.9, 60.2), (119.5, 120.4)]
    source = spoken(tmp_path, *words, seconds=150)
    sound, _ = soundfile.read(source.key, dtype="float32")
    whole = sharpened(speech_spans(Loud().probability(sound)), fine_levels_db(sound), sound.size)
    found = speech_on_timeline([(VOICE, Clip(0, 150 * 25, source, 0))], PAL, Loud())
    expected = joined(
        Span(PAL.frame_at_sample(s.start, RATE_HZ), PAL.frame_at_sample(s.end - 1, RATE_HZ) + 1)
        for s in whole
    )
    assert found == expected


def test_a_detector_that_follows_the_room_hears_parts_as_it_hears_the_whole(tmp_path: Path) -> None:
    # Its floor comes from 5 s to each side. The room rises just before the edge of a part and falls after
    # it, so a part that knew nothing of its neighbour would take the room for speech, or words for room.
    rng = np.random.default_rng(5)
    seconds, edge = 150, hearing.PART // RATE_HZ
    room_s = [0, edge - 4, edge - 3.5, edge + 3, edge + 3.5, seconds]
    room = np.interp(np.arange(seconds * RATE_HZ) / RATE_HZ, room_s, [0.002, 0.002, 0.02, 0.02, 0.002, 0.002])
    words = np.repeat(rng.uniform(size=seconds * 4) < 0.45, RATE_HZ // 4)
    sound = (room + 0.06 * words) * rng.standard_normal(seconds * RATE_HZ)
    path = tmp_path / "room.wav"
    soundfile.write(path, sound.astype(np.float32), RATE_HZ, subtype="FLOAT")
    sound, _ = soundfile.read(path, dtype="float32")
    whole = sharpened(speech_spans(EnergyDetector().probability(sound)), fine_levels_db(sound), sound.size)
    clip = Clip(0, seconds * 25, Source(str(path), SourceKind.FILE, path, seconds * 25), 0)
    expected = joined(
        Span(PAL.frame_at_sample(s.start, RATE_HZ), PAL.frame_at_sample(s.end - 1, RATE_HZ) + 1)
        for s in whole
    )
    assert len(expected) > 20
    assert speech_on_timeline([(VOICE, clip)], PAL, EnergyDetector()) == expected


def test_what_was_heard_is_remembered_between_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MLTASSIST_CACHE", str(tmp_path / "cache"))
    source = spoken(tmp_path, (4.0, 6.0))
    clips = [(VOICE, Clip(0, 500, source, 0))]
    first = speech_on_timeline(clips, PAL, Loud())
    hearing._heard.clear()  # as in a new run

    class Deaf(Loud):
        def probability(self, mono: NDArray[np.float32]) -> NDArray[np.float32]:
            raise AssertionError("the file was listened to again")

    assert speech_on_timeline(clips, PAL, Deaf()) == first != ()
