"""English words found in the sound by the acoustic model and the dictionary that pocketsphinx carries."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cache, lru_cache
from importlib.metadata import version
from importlib.util import find_spec
from math import log10
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.media.words.engine import PerThread, is_english
from mltassist.media.words.interface import WORDS_HZ, Fit
from mltassist.media.words.letters import sounds_of, spoken_parts

_FRAME = WORDS_HZ // 100
"""The model looks at the sound every 10 ms."""
_PEAK = 0.5
"""The sound is raised to this, so that quiet recordings keep their detail in 16 bits."""
_LEAST = -310.0
"""log10 of a likelihood too small for a float."""


class SphinxAligner:
    """The aligner inside the wheel of pocketsphinx; it is loaded when it is first asked."""

    language = "en"

    def __init__(self) -> None:
        self._decoders = PerThread(_decoder)
        self._guessed: set[str] = set()

    @property
    def name(self) -> str:
        """Engine and version; its wheel carries one model."""
        return f"pocketsphinx {_version()}"

    def understands(self, language: str) -> bool:
        """English, or a language that is not known."""
        return is_english(language)

    def align(self, mono: NDArray[np.float32], words: Sequence[str]) -> Fit | None:
        """Where these words are said; a word without a sound of its own lies at the end of the one before."""
        taught = [self._taught(spoken_parts(word)) for word in words]
        wanted = [part for parts, _ in taught for part in parts]
        if not wanted or mono.size < _FRAME * 3 * len(wanted):
            return None  # no word is said in less than 30 ms
        found = self._found(mono, wanted)
        if found is None:
            return None
        spans: list[Span] = []
        scores, at, end = [], 0, found[0][0].start
        for parts, _ in taught:
            own = found[at : at + len(parts)]
            spans.append(Span(own[0][0].start, own[-1][0].end) if own else Span(end, end))
            scores.append(sum(score for _, score in own))
            at, end = at + len(parts), spans[-1].end
        return Fit(tuple(spans), tuple(scores), tuple(known for _, known in taught))

    def _taught(self, parts: Sequence[str]) -> tuple[list[str], bool]:
        """The parts, each taught to the dictionary where it does not have it; whether it has them all."""
        decoder = self._decoders()
        said, known = [], True
        for part in parts:
            # What was taught for an earlier line is as strange as it was then.
            if part in self._guessed or decoder.lookup_word(part) is None:
                known = False
                if not (sounds := sounds_of(part)):
                    continue
                if decoder.lookup_word(part) is None:
                    decoder.add_word(part, sounds)
                self._guessed.add(part)
            said.append(part)
        return said, known

    def _found(self, mono: NDArray[np.float32], wanted: Sequence[str]) -> list[tuple[Span, float]] | None:
        """Each of the wanted words with its span and log10 of its likelihood; None where one is missing."""
        peak = float(np.abs(mono).max())
        loud = mono * (_PEAK / peak) if peak > 0 else mono
        decoder = self._decoders()
        try:
            decoder.reinit_feat()  # the noise of what was heard before must not tell what is found now
            decoder.set_align_text(" ".join(wanted))
            decoder.start_utt()
            decoder.process_raw((loud * 32767).astype("<i2").tobytes(), full_utt=True)
            decoder.end_utt()
            heard = [] if decoder.hyp() is None else list(decoder.seg())
        except RuntimeError:
            return None
        found = []
        for part in heard:
            if part.word[0] in "<[+":  # silence, breath and noise between words
                continue
            span = Span(part.start_frame * _FRAME, (part.end_frame + 1) * _FRAME)
            found.append((span, log10(part.ascore) if part.ascore > 0 else _LEAST))
        return found if len(found) == len(wanted) else None


@cache
def _version() -> str:
    return version("pocketsphinx")


def dictionary_sounds(words: Collection[str]) -> dict[str, str]:
    """How English words in lower case sound: by the dictionary that pocketsphinx carries, else by letters."""
    return dict(_sounds_of(frozenset(words)))


@lru_cache(maxsize=8)
def _sounds_of(words: frozenset[str]) -> dict[str, str]:
    """The same; of the words of one film the dictionary is read once."""
    found = {word: sounds_of(word) for word in words}
    for row in _dictionary().splitlines():
        word, _, sounds = row.partition(" ")
        if word in found:
            found[word] = sounds
    return found


def sounding_like(words: Collection[str]) -> dict[str, frozenset[str]]:
    """For each word the other English ones that the dictionary gives the same sounds, all in lower case."""
    return dict(_like(frozenset(words)))


@lru_cache(maxsize=8)
def _like(words: frozenset[str]) -> dict[str, frozenset[str]]:
    """The same; for the words of one phrase the dictionary is read once."""
    # A second way to say a word has a row of its own: "read(2)".
    rows = [
        (word.partition("(")[0], sounds)
        for word, _, sounds in (row.partition(" ") for row in _dictionary().splitlines())
    ]
    own: dict[str, set[str]] = {word: set() for word in words}
    for word, sounds in rows:
        if word in own:
            own[word].add(sounds)
    own = {word: found or {sounds_of(word)} for word, found in own.items()}
    alike: dict[str, set[str]] = {sounds: set() for found in own.values() for sounds in found}
    for word, sounds in rows:
        if sounds in alike:
            alike[sounds].add(word)
    return {word: frozenset().union(*(alike[one] for one in own[word])) - {word} for word in words}


def _dictionary() -> str:
    """A word and its sounds a row; empty where pocketsphinx is not installed."""
    if not find_spec("pocketsphinx"):
        return ""
    from pocketsphinx import get_model_path  # noqa: PLC0415 - part of an extra

    return Path(get_model_path("en-us/cmudict-en-us.dict")).read_text(encoding="utf-8")


def _decoder() -> Any:  # noqa: ANN401  (the library is untyped)
    from pocketsphinx import Decoder  # noqa: PLC0415 - part of an extra

    return Decoder(lm=None, loglevel="FATAL")
