"""Engines that hear what is said: a small English one that carries its model, and a larger one without.

Neither asks a network for anything: the one has its model in its wheel, the other is given a folder.
"""

from __future__ import annotations

from functools import cached_property
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.sound.speech import SpeechDetector, default_detector
from mltassist.media.words.engine import NoEngine, PerThread, is_english, primary
from mltassist.media.words.interface import WORDS_HZ, HeardLine
from mltassist.media.words.phrases import LONGEST_PHRASE, ROOM, phrases

_CODE = 2
"""Letters of the codes that the larger engine takes."""


class MoonshineHearer:
    """The English recogniser inside the wheel of moonshine-voice; it is loaded when it is first asked."""

    def __init__(self) -> None:
        self._models = PerThread(_moonshine)

    @property
    def name(self) -> str:
        """Engine, version and model."""
        return f"moonshine-voice {version('moonshine-voice')} tiny-en"

    def understands(self, language: str) -> bool:
        """English, or a language that is not known."""
        return is_english(language)

    def hear(self, mono: NDArray[np.float32], language: str) -> list[HeardLine]:
        """A line for each phrase; it tells neither words nor how sure it is."""
        model, detector = self._models()
        lines = []
        for span in phrases(mono, detector):
            found = model.transcribe_without_streaming(mono[span.start : span.end].tolist(), WORDS_HZ)
            text = " ".join(line.text.strip() for line in found.lines).strip()
            if text:
                lines.append(HeardLine(text, span, "en"))
        return lines


class WhisperHearer:
    """faster-whisper with a model that the person has put into a folder: many languages, and word times."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._models = PerThread(lambda: _whisper(folder))

    @cached_property
    def name(self) -> str:
        """Engine, version, and which model: its folder's name and the size of its weights."""
        weights = self._folder / "model.bin"
        size = weights.stat().st_size if weights.is_file() else 0
        return f"faster-whisper {version('faster-whisper')} {self._folder.name} {size}"

    def understands(self, language: str) -> bool:
        """Every language that the model has; a model of one language has English alone.

        A code of three letters is not looked up: the model then tells the language by itself.
        """
        code, known = primary(language), self._models().supported_languages
        return is_english(code) or (len(known) > 1 and (len(code) != _CODE or code in known))

    def hear(self, mono: NDArray[np.float32], language: str) -> list[HeardLine]:
        """The lines of the sound with the times of their words and the engine's own trust."""
        code = primary(language)
        # Without what it said before, a mistake is not carried from one line to the next.
        segments, told = self._models().transcribe(
            mono,
            language=code if len(code) == _CODE else None,
            word_timestamps=True,
            vad_filter=False,
            condition_on_previous_text=False,
        )
        return [line for part in segments if (line := _line_of(part, told.language, mono.size)) is not None]


def _line_of(part: Any, language: str, length: int) -> HeardLine | None:  # noqa: ANN401  (the library is brought along)
    """One segment as a line; None where nothing is said in it."""
    whole = Span(0, length)
    pairs = [(word.word.strip(), _span(word.start, word.end).shared(whole)) for word in part.words or ()]
    pairs = [(text, span) for text, span in pairs if text and span.length > 0]
    if not pairs:
        return None
    sure = float(np.exp(part.avg_logprob)) * (1 - part.no_speech_prob)
    texts, spans = [text for text, _ in pairs], tuple(span for _, span in pairs)
    around = Span(spans[0].start, spans[-1].end).grown(ROOM, ROOM).shared(whole)
    return HeardLine(" ".join(texts), around, language, min(1.0, max(0.0, sure)), spans)


def _span(start_s: float, end_s: float) -> Span:
    return Span(round(start_s * WORDS_HZ), round(end_s * WORDS_HZ))


def _moonshine() -> tuple[Any, SpeechDetector]:
    from moonshine_voice import ModelArch  # noqa: PLC0415 - part of an extra
    from moonshine_voice.transcriber import Transcriber  # noqa: PLC0415
    from moonshine_voice.utils import get_model_path  # noqa: PLC0415

    folder = get_model_path("tiny-en")
    if not folder.is_dir():
        raise NoEngine("this moonshine-voice carries no model; install moonshine-voice below 0.1")
    # Where speech is we tell it: left alone it cuts into words, and hears some where nothing is said.
    options = {"vad_threshold": "0", "vad_max_segment_duration": str(2 * LONGEST_PHRASE // WORDS_HZ)}
    return Transcriber(str(folder), ModelArch.TINY, options=options), default_detector()


def _whisper(folder: Path) -> Any:  # noqa: ANN401  (see above)
    # Where a file is missing the library would ask a network for it.
    missing = [name for name in ("model.bin", "tokenizer.json") if not (folder / name).is_file()]
    if missing:
        raise NoEngine(f"{folder}: there is no speech model in it: {' and '.join(missing)} missing")
    from faster_whisper import WhisperModel  # noqa: PLC0415 - brought by the person

    return WhisperModel(str(folder), device="cpu", compute_type="int8", cpu_threads=1, local_files_only=True)
