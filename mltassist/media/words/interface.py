"""Two questions about a recording: what is said in it, and when each word begins and ends.

Whoever answers the first is a `Hearer`, whoever answers the second an `Aligner`. Both work on mono sound
at 16 kHz and count in samples of it; what the rest of the package is told is in milliseconds of the file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span

WORDS_HZ = 16000
_ALL = 3
"""Other hearings of a word in doubt."""
_SURE = 2
"""Other hearings that a word in doubt must be in."""
TRUSTED = 0.5
"""A line with less trust than this is unsure: it may be shown as such, and is never used as a fact."""


@dataclass(frozen=True, slots=True)
class TimedWord:
    """A word as it is written, from when to when it is said, in milliseconds from the start of the file.

    opens: it begins a sentence, so that a capital tells nothing of it. after: marks written behind it.
    votes: other hearings of its line that have it too, of three; that many where one hearing was clear.
    """

    text: str
    at_ms: int
    until_ms: int
    opens: bool = False
    after: str = field(default="", compare=False)
    votes: int = _ALL

    @property
    def agreed(self) -> bool:
        """Whether every hearing has it."""
        return self.votes >= _ALL

    @property
    def sure(self) -> bool:
        """Whether it may be used as a fact where its line may."""
        return self.votes >= _SURE


@dataclass(frozen=True, slots=True)
class SpokenLine:
    """Words said one after the other.

    trust: 0 to 1, how sure it is that this is said; what somebody typed has 1. aligned: each word was
    found in the sound, and not only spread over the line. language: two or three letters, or "" where it is
    not known. speaker: as the transcript names them, or "".
    """

    words: tuple[TimedWord, ...]
    trust: float = 1.0
    aligned: bool = False
    language: str = ""
    speaker: str = ""

    @property
    def trusted(self) -> bool:
        """Whether it may be used as a fact."""
        return self.trust >= TRUSTED

    @property
    def text(self) -> str:
        """The words with a space between them."""
        return " ".join(word.text for word in self.words)


@dataclass(frozen=True, slots=True)
class HeardLine:
    """A line as an engine hears it. span: samples of the sound it was given, all words well inside.

    sure: 0 to 1, what the engine itself thinks of it; None where it does not tell. words: spans of the
    words, where the engine tells them, one for each of the line's words as split by white space.
    """

    text: str
    span: Span
    language: str
    sure: float | None = None
    words: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Fit:
    """Words found in the sound. words: a span in samples each.

    scores: for each, how much less likely its sound is as this word than as the likeliest sounds that were
    awaited there: log10, 0 or less, summed over its frames of 10 ms. known: the dictionary has it.
    """

    words: tuple[Span, ...]
    scores: tuple[float, ...]
    known: tuple[bool, ...]


class Hearer(Protocol):
    """Tells what is said. Made once for each thread."""

    @property
    def name(self) -> str:
        """The engine with its version and model: what a cached answer belongs to."""

    def understands(self, language: str) -> bool:
        """Whether it may be asked about speech in this language; "" is not known."""

    def hear(self, mono: NDArray[np.float32], language: str) -> list[HeardLine]:
        """The lines said in mono sound at 16 kHz (n,), in order."""


class Aligner(Protocol):
    """Tells when words are said. Made once for each thread."""

    @property
    def name(self) -> str:
        """The engine with its version and model: what a cached answer belongs to."""

    @property
    def language(self) -> str:
        """The language of its model, by its code of two letters."""

    def understands(self, language: str) -> bool:
        """Whether that is this language; "" is not known, and may be."""

    def align(self, mono: NDArray[np.float32], words: Sequence[str]) -> Fit | None:
        """Where these words are said in mono sound at 16 kHz (n,); None where they cannot be found in it."""
