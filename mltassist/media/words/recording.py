"""The words of one recording: from the transcript beside it, else from an engine that hears them."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from mltassist.errors import MediaError
from mltassist.frames import Span, joined
from mltassist.media.opening import open_media
from mltassist.media.sound.recordings import recording_of
from mltassist.media.transcript import find_transcript, read_cues
from mltassist.media.words.aligner import SphinxAligner
from mltassist.media.words.engine import primary
from mltassist.media.words.heard import heard_in, judged
from mltassist.media.words.interface import WORDS_HZ, Aligner, Hearer, SpokenLine
from mltassist.media.words.pieces import pieces
from mltassist.media.words.recogniser import MoonshineHearer, WhisperHearer
from mltassist.media.words.trust import LineEvidence
from mltassist.media.words.typed import typed_in


@dataclass(frozen=True, slots=True)
class Ears:
    """Who hears what is said, and who finds the words in the sound; None where nobody can.

    listening: without it no sound is read at all, and words lie evenly in their lines.
    """

    hearer: Hearer | None = None
    aligner: Aligner | None = None
    listening: bool = True


DEAF = Ears(listening=False)


def ears_of(model: Path | None = None) -> Ears:
    """What is installed here. model: a folder with a model of faster-whisper, which then hears.

    The environment variable MLTASSIST_WORDS, where it is ``off``, leaves all words unheard.

    Nothing is loaded yet. Raises MediaError where a model is named and faster-whisper is not installed.
    """
    if os.environ.get("MLTASSIST_WORDS") == "off":
        return DEAF
    aligner = SphinxAligner() if find_spec("pocketsphinx") else None
    if model is not None:
        if not find_spec("faster_whisper"):
            raise MediaError(model, "to use this model install faster-whisper beside mltassist")
        return Ears(WhisperHearer(model), aligner)
    return Ears(MoonshineHearer() if find_spec("moonshine_voice") else None, aligner)


@dataclass(frozen=True, slots=True)
class SpokenRecording:
    """A recording whose words are wanted.

    beside: the file that its transcript lies beside, where that is another (a proxy stands in for it).
    stream: its sound stream. language: as the recipe tells it, or "".
    """

    path: Path
    beside: Path | None = None
    stream: int = 0
    language: str = ""

    def transcript(self) -> Path | None:
        """The transcript beside the recording."""
        found = find_transcript(self.beside) if self.beside is not None else None
        return found or find_transcript(self.path)


def words_of_recording(
    source: SpokenRecording,
    wanted: Sequence[Span],
    ears: Ears,
    on_progress: Callable[[float], None] | None = None,
) -> tuple[SpokenLine, ...]:
    """Lines said in these stretches, samples at 16 kHz of the recording, each with the times of its words.

    What somebody typed is what is said; only without a transcript is the recording listened to, and only
    where the engine knows its language: of the recipe, else of the file's own tag.

    Raises MediaError where the transcript or the sound cannot be read, NoEngine where a model cannot be
    loaded.
    """
    spans = joined(wanted)
    transcript = source.transcript()
    if transcript is not None:
        lines = _typed(source, transcript, spans, ears)
    else:
        lines = _heard(source, spans, ears, on_progress)
    return tuple(line for line in lines if any(_within(line, span) for span in spans))


def _typed(source: SpokenRecording, transcript: Path, spans: Sequence[Span], ears: Ears) -> list[SpokenLine]:
    cues, language = read_cues(transcript)
    wanted = [
        cue
        for cue in cues
        if any(Span(_sample(cue.at_ms), _sample(cue.until_ms) + 1).overlaps(span) for span in spans)
    ]
    return typed_in(
        source.path,
        wanted,
        source.language or language,
        ears.aligner,
        stream=source.stream,
        listening=ears.listening and source.path.exists(),
    )


def _heard(
    source: SpokenRecording, spans: Sequence[Span], ears: Ears, on_progress: Callable[[float], None] | None
) -> list[SpokenLine]:
    language = source.language or language_tag(source.path, source.stream)
    if ears.hearer is None or not ears.hearer.understands(language):
        return []
    asked = sorted({piece for span in spans for piece in pieces(source.path, span, source.stream)})
    found: list[tuple[SpokenLine, LineEvidence]] = []
    for number, piece in enumerate(asked):
        if on_progress is not None:
            on_progress(number / len(asked))
        found += heard_in(
            source.path,
            piece,
            ears.hearer,
            ears.aligner,
            stream=source.stream,
            language=primary(language),
        )
    return judged(found, told=bool(primary(language)))


def language_tag(path: Path, stream: int = 0) -> str:
    """The language that the file's sound stream is tagged with, "" where there is none."""
    if path.suffix.lower() == ".wav":
        return ""
    recording_of(path, stream)  # names what is wrong with a file that cannot be opened
    with open_media(path) as container:
        return primary(container.streams.audio[stream].language or "")


def _within(line: SpokenLine, span: Span) -> bool:
    return bool(line.words) and Span(
        _sample(line.words[0].at_ms), _sample(line.words[-1].until_ms) + 1
    ).overlaps(span)


def _sample(ms: int) -> int:
    return ms * WORDS_HZ // 1000
