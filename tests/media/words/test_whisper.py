"""The engine for other languages. No model of it is at hand: what it answers is played by a stand-in.

The stand-in has the names and shapes of faster-whisper 1.2.1 as its source shows them; no real model was run.
"""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest

from mltassist.frames import Span
from mltassist.media.words import recogniser
from mltassist.media.words.interface import WORDS_HZ
from mltassist.media.words.recogniser import WhisperHearer


class Model:
    """Says one German line with two words, and one in which nothing is said."""

    asked: dict[str, Any]
    supported_languages: tuple[str, ...] = ("de", "en", "fr")

    def __init__(self, folder: str, **options: Any) -> None:
        assert Path(folder).is_dir()
        assert options["local_files_only"]  # no network, ever

    def transcribe(self, mono: np.ndarray, **options: Any) -> tuple[list[SimpleNamespace], SimpleNamespace]:
        Model.asked = options
        words = [
            SimpleNamespace(word=" Guten", start=0.5, end=0.9),
            SimpleNamespace(word=" Tag.", start=0.9, end=1.4),
        ]
        said = SimpleNamespace(words=words, avg_logprob=-0.1, no_speech_prob=0.1)
        nothing = SimpleNamespace(words=None, avg_logprob=-2.0, no_speech_prob=0.9)
        return [said, nothing], SimpleNamespace(language="de")


@pytest.fixture
def hearer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> WhisperHearer:
    for name in ("model.bin", "tokenizer.json"):
        (tmp_path / name).write_bytes(b"stand-in")
    package = ModuleType("faster_whisper")
    package.WhisperModel = Model  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "faster_whisper", package)
    monkeypatch.setattr(recogniser, "version", lambda name: "1.2.1")
    return WhisperHearer(tmp_path)


def test_its_lines_have_words_and_its_own_trust(hearer: WhisperHearer) -> None:
    (line,) = hearer.hear(np.zeros(2 * WORDS_HZ, np.float32), "de-AT")
    assert (line.text, line.language) == ("Guten Tag.", "de")
    assert line.words == (Span(8000, 14400), Span(14400, 22400))
    assert line.span.covers(Span(8000, 22400))
    assert line.sure == pytest.approx(np.exp(-0.1) * 0.9)
    assert (Model.asked["language"], Model.asked["word_timestamps"]) == ("de", True)


def test_a_language_that_is_not_told_is_left_to_it(hearer: WhisperHearer) -> None:
    hearer.hear(np.zeros(WORDS_HZ, np.float32), "")
    assert Model.asked["language"] is None


def test_it_understands_what_its_model_has(hearer: WhisperHearer) -> None:
    assert hearer.understands("fr-CA")
    assert hearer.understands("")
    assert not hearer.understands("ja")


def test_a_model_of_one_language_has_english_alone(
    hearer: WhisperHearer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Model, "supported_languages", ("en",))
    assert hearer.understands("en")
    assert not hearer.understands("deu")


def test_its_name_tells_which_model_it_was(hearer: WhisperHearer, tmp_path: Path) -> None:
    assert hearer.name == f"faster-whisper 1.2.1 {tmp_path.name} 8"
