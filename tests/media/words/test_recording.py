"""The words of whole recordings, by the real models where no transcript lies beside them."""

from __future__ import annotations

import shutil
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile

from mltassist.errors import MediaError
from mltassist.frames import Span
from mltassist.media.sound.decode import read_sound
from mltassist.media.words import recording
from mltassist.media.words.engine import NoEngine, PerThread
from mltassist.media.words.interface import WORDS_HZ, HeardLine
from mltassist.media.words.recogniser import WhisperHearer
from mltassist.media.words.recording import (
    DEAF,
    Ears,
    SpokenRecording,
    ears_of,
    language_tag,
    words_of_recording,
)
from tests.media.words import voices

WHOLE = [Span(0, 60 * WORDS_HZ)]


@pytest.fixture(scope="module")
def ears() -> Ears:
    return voices.real_ears()


@pytest.fixture(scope="module")
def reading(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Two read sentences one after the other, and what they say."""
    first, _, second, *_ = voices.librivox()
    sounds = [read_sound(s.path, 0, 8 * WORDS_HZ, rate_hz=WORDS_HZ, mono=True)[0] for s in (first, second)]
    path = tmp_path_factory.mktemp("reading") / "austen.wav"
    soundfile.write(path, np.concatenate(sounds), WORDS_HZ)
    return path, f"{first.text} {second.text}"


def test_read_english_is_heard_and_trusted(ears: Ears, reading: tuple[Path, str]) -> None:
    path, text = reading
    lines = words_of_recording(SpokenRecording(path), WHOLE, ears)
    assert all(line.trusted and line.aligned and line.language == "en" for line in lines)
    wrong, said = voices.word_errors(text, " ".join(line.text for line in lines))
    assert wrong <= 0.1 * said
    words = [word for line in lines for word in line.words]
    assert all(a.at_ms < a.until_ms <= b.at_ms + 1 for a, b in pairwise(words))


def test_only_what_is_asked_for_is_told(ears: Ears, reading: tuple[Path, str]) -> None:
    part = words_of_recording(SpokenRecording(reading[0]), [Span(9 * WORDS_HZ, 12 * WORDS_HZ)], ears)
    assert part
    assert all(line.words[0].at_ms >= 7500 for line in part)


def test_what_was_heard_is_not_heard_again(ears: Ears, reading: tuple[Path, str]) -> None:
    once = words_of_recording(SpokenRecording(reading[0]), WHOLE, ears)

    class Silent:
        name = ears.hearer.name if ears.hearer is not None else ""

        def understands(self, language: str) -> bool:
            return True

        def hear(self, mono: object, language: str) -> list[HeardLine]:
            raise AssertionError("it was heard before")

    assert words_of_recording(SpokenRecording(reading[0]), WHOLE, Ears(Silent(), ears.aligner)) == once


def test_spanish_prompts_are_not_believed(ears: Ears, tmp_path: Path) -> None:
    sounds = []
    for path in voices.prompts("es", 150):
        length = round(soundfile.info(path).duration * WORDS_HZ)
        sounds.append(read_sound(path, 0, length, rate_hz=WORDS_HZ, mono=True)[0])
    talk = tmp_path / "talk.wav"
    soundfile.write(talk, np.concatenate(sounds), WORDS_HZ)
    lines = words_of_recording(SpokenRecording(talk), WHOLE, ears)
    assert lines  # the engine always hears something
    assert [line.text for line in lines if line.trusted] == []


def test_where_the_language_is_told_and_is_another_nobody_listens(
    ears: Ears, reading: tuple[Path, str]
) -> None:
    assert words_of_recording(SpokenRecording(reading[0], language="de"), WHOLE, ears) == ()


def test_noise_and_silence_say_nothing(ears: Ears, tmp_path: Path) -> None:
    for name, level in (("noise", 0.1), ("silence", 0.0)):
        path = tmp_path / f"{name}.wav"
        soundfile.write(path, np.random.default_rng(1).normal(0, level, 8 * WORDS_HZ), WORDS_HZ)
        assert not any(line.trusted for line in words_of_recording(SpokenRecording(path), WHOLE, ears))


def test_words_of_a_transcript_are_found_in_the_sound(ears: Ears, tmp_path: Path) -> None:
    spoken = voices.arctic()
    path = tmp_path / "talk.wav"
    shutil.copy(spoken.path, path)
    (tmp_path / "talk.srt").write_text(
        f"1\n00:00:00,400 --> 00:00:02,600\nGREG: {spoken.text.capitalize()}.\n"
    )
    (line,) = words_of_recording(SpokenRecording(path), WHOLE, ears)
    assert (line.aligned, line.speaker, line.language, line.trust) == (True, "Greg", "en", 1.0)
    errors = [abs(word.at_ms / 1000 - at) for word, at in zip(line.words, spoken.begins, strict=True)]
    assert max(errors) <= 0.05


def test_a_transcript_in_a_language_without_a_model_is_spread_over_the_voice(
    ears: Ears, tmp_path: Path
) -> None:
    spoken = voices.arctic()  # what is written need not be what is said: only where the voice is counts
    path = tmp_path / "talk.wav"
    sound = read_sound(spoken.path, 0, 3 * WORDS_HZ, rate_hz=WORDS_HZ, mono=True)[0]
    soundfile.write(path, np.concatenate([np.zeros(WORDS_HZ, np.float32), sound]), WORDS_HZ)
    (tmp_path / "talk.de.srt").write_text("1\n00:00:00,000 --> 00:00:04,000\nDas Wasser steht tief\n")
    (line,) = words_of_recording(SpokenRecording(path), WHOLE, ears)
    assert not line.aligned
    assert 1000 <= line.words[0].at_ms <= 1220  # the voice begins 0.13 s after the first second
    (even,) = words_of_recording(SpokenRecording(path), WHOLE, DEAF)
    assert even.words[0].at_ms == 0


def test_a_transcript_counts_where_the_recording_is_gone(tmp_path: Path) -> None:
    (tmp_path / "talk.srt").write_text("1\n00:00:01,000 --> 00:00:02,000\nthe wheel\n")
    (line,) = words_of_recording(SpokenRecording(tmp_path / "talk.mov"), WHOLE, Ears())
    assert [word.at_ms for word in line.words] == [1000, 1500]


def test_without_any_engine_nothing_is_heard(reading: tuple[Path, str]) -> None:
    assert words_of_recording(SpokenRecording(reading[0]), WHOLE, Ears()) == ()


def test_a_model_is_loaded_once_and_its_failure_told() -> None:
    loaded: list[int] = []
    model = PerThread(lambda: loaded.append(1) or len(loaded))
    assert (model(), model(), loaded) == (1, 1, [1])

    def broken() -> None:
        raise OSError("libfoo.so: cannot open")

    with pytest.raises(NoEngine, match=r"words cannot be recognised: libfoo\.so"):
        PerThread(broken)()


def test_a_folder_without_a_model_is_refused_before_anything_is_fetched(tmp_path: Path) -> None:
    with pytest.raises(NoEngine, match=r"model\.bin and tokenizer\.json missing"):
        WhisperHearer(tmp_path).hear(np.zeros(WORDS_HZ, np.float32), "de")


def test_a_model_without_its_engine_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("MLTASSIST_WORDS")
    monkeypatch.setattr(recording, "find_spec", lambda name: None)
    with pytest.raises(MediaError, match="install faster-whisper"):
        ears_of(tmp_path)
    assert ears_of() == Ears(None, None)
    monkeypatch.setenv("MLTASSIST_WORDS", "off")
    assert ears_of(tmp_path) is DEAF


def test_a_file_tells_its_language(tmp_path: Path) -> None:
    import av

    path = tmp_path / "rede.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=48000)
        stream.metadata["language"] = "ger"
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 4800), np.float32), format="fltp", layout="mono")
        frame.sample_rate = 48000
        for packet in (*stream.encode(frame), *stream.encode(None)):
            container.mux(packet)
    assert language_tag(path) == "ger"
    assert language_tag(tmp_path / "any.wav") == ""
