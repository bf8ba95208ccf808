"""Which words spoken in a film name what is in a picture.

A word and a tag mean the same when their stems do (Snowball's stemmers), or when the recipe's table of
synonyms says so. Names of people and places, which are written with a capital where no sentence begins,
are never stemmed: they match letter for letter. Rare words weigh more: each time weighs
1 / (1 + log2(n)), n being how often anything that the tag means is said in the film, divided by the
fourth root of the number of moments that carry the tag.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import log2
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span

SHORTEST = 3
"""Letters of the shortest word that can name a subject."""

_LANGUAGES = {
    "ar": "arabic",
    "ca": "catalan",
    "da": "danish",
    "de": "german",
    "el": "greek",
    "en": "english",
    "es": "spanish",
    "et": "estonian",
    "eu": "basque",
    "fi": "finnish",
    "fr": "french",
    "ga": "irish",
    "hu": "hungarian",
    "it": "italian",
    "lt": "lithuanian",
    "nl": "dutch",
    "no": "norwegian",
    "nb": "norwegian",
    "pt": "portuguese",
    "ro": "romanian",
    "ru": "russian",
    "sr": "serbian",
    "sv": "swedish",
    "ta": "tamil",
    "tr": "turkish",
}
"""ISO 639-1 codes of the languages that the library stems."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """A word as it is said, at a frame of the timeline. opens: it begins a sentence."""

    text: str
    at: int
    language: str = ""
    opens: bool = False


@dataclass(frozen=True, slots=True)
class Match:
    """A spoken word that names what a picture shows. weight: 0 to 1, more for rare words."""

    word: str
    tag: str
    at: int
    weight: float


def stem(word: str, language: str = "") -> str:
    """What all forms of a word share, in lower case; the word itself in a language that is not known."""
    folded = word.casefold().replace("’", "'").removesuffix("'s")
    name = _LANGUAGES.get(language[:2].lower())
    return folded if name is None else str(_stemmer(name).stemWord(folded))


@cache
def _stemmer(name: str) -> Any:  # noqa: ANN401  (the library is untyped)
    import snowballstemmer  # type: ignore[import-untyped]  # noqa: PLC0415  (loads many tables)

    return snowballstemmer.stemmer(name)


def is_name(word: Spoken) -> bool:
    """True for a word that is written with a capital where no sentence begins (nouns in German aside)."""
    return word.text[:1].isupper() and not word.opens and not word.language.startswith("de")


class Matcher:
    """Knows all the words of a film and finds those that name a subject."""

    def __init__(
        self,
        words: Sequence[Spoken],
        subjects: Iterable[Sequence[str]],
        synonyms: Mapping[str, Sequence[str]] | None = None,
    ) -> None:
        self._language = next((word.language for word in words if word.language), "")
        self._said: dict[str, list[Spoken]] = defaultdict(list)
        for word in sorted(words, key=lambda one: (one.at, one.text)):
            if len(word.text) < SHORTEST:
                continue
            key = "=" + word.text.casefold() if is_name(word) else stem(word.text, self._language)
            self._said[key].append(word)
        self._synonyms = {
            stem(head, self._language): tuple(key for word in meaning for key in self._keys(word))
            for head, meaning in (synonyms or {}).items()
        }
        carried: dict[str, int] = defaultdict(int)
        for tags in subjects:
            for tag in set(tags):
                carried[tag] += 1
        self._found = {tag: self._occurrences(tag, count) for tag, count in carried.items()}

    def _keys(self, word: str) -> tuple[str, str]:
        return stem(word, self._language), "=" + word.casefold()

    def _occurrences(self, tag: str, carried: int) -> tuple[list[Spoken], float]:
        """Where anything that a tag means is said, and what each time weighs."""
        keys: set[str] = set()
        for word in tag.replace("-", " ").split():
            if len(word) >= SHORTEST:
                keys.update(self._keys(word))
                keys.update(self._synonyms.get(stem(word, self._language), ()))
        found = sorted({w for key in keys for w in self._said.get(key, ())}, key=lambda w: (w.at, w.text))
        weight = 1 / (1 + log2(max(1, len(found)))) / max(1, carried) ** 0.25
        return found, weight

    def match(self, tags: Sequence[str], span: Span, reach: int) -> Match | None:
        """The heaviest word said within `reach` frames of a span that names one of these tags.

        Of equals the one nearest to the beginning of the span, then the earliest.
        """
        best: tuple[float, int, int, str, Spoken] | None = None
        for tag in tags:
            words, weight = self._found.get(tag, ((), 0.0))
            frames = [word.at for word in words]
            first = bisect_left(frames, span.start - reach)
            for word in words[first : bisect_left(frames, span.end + reach)]:
                row = (-weight, abs(word.at - span.start), word.at, tag, word)
                if best is None or row[:4] < best[:4]:
                    best = row
        if best is None:
            return None
        return Match(best[4].text, best[3], best[2], -best[0])

    def weights(
        self, spans: Sequence[Span], moments: Sequence[Sequence[str]], reach: int
    ) -> NDArray[np.float64]:
        """The weight of the best match of every moment's tags in every span: shape (spans, moments)."""
        starts = np.array([span.start - reach for span in spans], dtype=np.int64)
        ends = np.array([span.end + reach for span in spans], dtype=np.int64)
        result = np.zeros((len(spans), len(moments)))
        carriers: dict[str, list[int]] = defaultdict(list)
        for number, tags in enumerate(moments):
            for tag in dict.fromkeys(tags):
                carriers[tag].append(number)
        for tag, numbers in carriers.items():
            words, weight = self._found.get(tag, ((), 0.0))
            if words:
                frames = np.array([word.at for word in words])
                hit = np.searchsorted(frames, starts) < np.searchsorted(frames, ends)
                cells = np.ix_(np.flatnonzero(hit), np.array(numbers))
                result[cells] = np.maximum(result[cells], weight)
        return result
