"""Which words spoken in a film name what is in a picture.

A word and a tag mean the same when their stems do (Snowball's stemmers), or when the recipe's table of
synonyms says so. Names of people and places, which are written with a capital where no sentence begins,
are never stemmed: they match letter for letter, and so do words that only bind others together (Spanish *más*
has the stem of *masa*). A German umlaut tells forms of a word from other words (`umlauts_agree`). Rare words
weigh more: for each word of a tag (and its synonyms) each time weighs 1 / (1 + log2(n)), n being how often
that word is said in the film, divided by the fourth root of the number of moments that carry the tag. Every
word has the language of its transcript; tags are looked for in all languages of the film.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from math import log2
from typing import Any
from unicodedata import normalize

import numpy as np
from numpy.typing import NDArray

from mltassist.frames import Span
from mltassist.timeline.commonwords import COMMON_WORDS, SHORTEST

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

_LONG_CODES = {
    long: code
    for code, longs in {
        "ar": ("ara",),
        "ca": ("cat",),
        "da": ("dan",),
        "de": ("deu", "ger"),
        "el": ("ell", "gre"),
        "en": ("eng",),
        "es": ("spa",),
        "et": ("est",),
        "eu": ("eus", "baq"),
        "fi": ("fin",),
        "fr": ("fra", "fre"),
        "ga": ("gle",),
        "hu": ("hun",),
        "it": ("ita",),
        "lt": ("lit",),
        "nl": ("nld", "dut"),
        "no": ("nor", "nob"),
        "pt": ("por",),
        "ro": ("ron", "rum"),
        "ru": ("rus",),
        "sr": ("srp",),
        "sv": ("swe",),
        "ta": ("tam",),
        "tr": ("tur",),
    }.items()
    for long in longs
}
"""ISO 639-2 codes, of which the first two letters may be those of another language."""
BESIDE = 0.6
"""What a word counts that is said just before a shot or just after it, of one that is said while it is seen.
(A choice of ours: it moves a shot onto its word where another is as near, and gives up no shot for it. It was
set on the first example. Looked at afterwards, the film of the lessons has 12 shots of 25 over their word
with anything from 0.4 to 0.7 and 11 with 0.8, all lessons 10 of 16 with 0.4 and 0.5 and 9 with more.)
"""
_PARTS = re.compile(r"[^\W_]+(?:['’][^\W_]+)*")


ELIDING = ("fr", "it", "ca")
"""Languages that tie an article or a preposition to its word by an apostrophe: "l'eau", "dell'acqua"."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """A word as it is said, at a frame of the timeline.

    opens: it begins a sentence, or a line. after: marks that are written behind it, "" where there are none.
    """

    text: str
    at: int
    language: str = ""
    opens: bool = False
    after: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Match:
    """A spoken word that names what a picture shows. weight: 0 to 1, more for rare words."""

    word: str
    tag: str
    at: int
    weight: float


@lru_cache(50_000)
def word_stem(word: str, language: str = "") -> str:
    """What all forms of a word share, in lower case; the word itself in a language that is not known."""
    folded = _folded(word).removesuffix("'s")
    name = _LANGUAGES.get(_code(language))
    return folded if name is None else str(_stemmer(name).stemWord(folded))


def _folded(word: str) -> str:
    """Without letter case, each accent one with its letter, apostrophes alike."""
    return normalize("NFC", word).casefold().replace("’", "'")


def umlauts_agree(one: str, other: str, *, noun: bool) -> bool:
    """Whether two German words of one stem may be forms of one word, as far as their umlauts tell.

    Where only one has an umlaut in its stem it is the plural, the verb in the third person or the comparative
    of the other: longer than it, or as long where nouns take no ending (those in -el, -en and -er: *Garten,
    Gärten*). *Säge* is none of *sagen*. noun: false for a word that is written small, which is no noun: so
    no plural, but still a longer form.
    """
    one, other = _folded(one), _folded(other)
    plain, marked = sorted((one, other), key=lambda word: sum(map(word.count, "äöü")))
    length = len(word_stem(one, "de"))
    if marked[:length].translate(_BARE) != marked[:length] and marked[:length] != plain[:length]:
        plain = plain.removesuffix("es").removesuffix("s")  # of the house
        without_ending = noun and plain.endswith(("el", "en", "er", "eln", "ern"))
        return len(marked) > len(plain) or (len(marked) == len(plain) and without_ending)
    return True


_BARE = str.maketrans("äöü", "aou")


def language_of(word: Spoken) -> str:
    """The code of two letters of a word's language, without a region; "" where none is known."""
    return _code(word.language)


def parted(word: Spoken) -> tuple[str, str]:
    """What is tied to a word by an apostrophe ("l'eau"), else "", and the word itself."""
    if language_of(word) in ELIDING:
        head, mark, rest = word.text.replace("’", "'").partition("'")
        if mark and len(head) < len(rest):
            return head, rest
    return "", word.text


def _code(language: str) -> str:
    """The code of two letters, where there is one, without a region ("eng" and "en-GB" are "en")."""
    code = re.split("[-_]", language.lower())[0]
    return _LONG_CODES.get(code, code)


def _parts(text: str) -> list[str]:
    """The words of a tag, or of a word with hyphens, that are long enough to name a subject."""
    return [part for part in _PARTS.findall(normalize("NFC", text)) if len(part) >= SHORTEST]


@cache
def _stemmer(name: str) -> Any:  # noqa: ANN401  (the library is untyped)
    import snowballstemmer  # type: ignore[import-untyped]  # noqa: PLC0415  (loads many tables)

    return snowballstemmer.stemmer(name)


def is_name(word: Spoken) -> bool:
    """True for a word that is written with a capital where no sentence begins.

    German writes all nouns so, and some transcripts every letter: neither tells of names. Nor does a word
    that only binds others: whoever hears verse writes a capital wherever a line begins.
    """
    first = re.split("['’]", word.text, maxsplit=1)[0]  # "I'm" is none
    binds = first == "I" or first.casefold() in COMMON_WORDS
    capital = word.text[:1].isupper() and not word.text.isupper() and not binds
    return capital and not word.opens and _code(word.language) != "de"


def _agree(key: str, meant: str, part: str) -> bool:
    """Whether a word of a tag and a spoken one that share a key may be forms of one word."""
    return not key.startswith("de ") or umlauts_agree(meant, part, noun=part[:1].isupper())


def _frame(word: Spoken) -> int:
    return word.at


class Matcher:
    """Knows all the words of a film and finds those that name a subject."""

    def __init__(
        self,
        words: Sequence[Spoken],
        subjects: Iterable[Sequence[str]],
        synonyms: Mapping[str, Sequence[str]] | None = None,
    ) -> None:
        codes = dict.fromkeys(code for word in words if (code := _code(word.language)) in _LANGUAGES)
        self._languages = tuple(codes) or ("",)
        self._said: dict[str, list[tuple[Spoken, str]]] = defaultdict(list)
        ordered = sorted(words, key=lambda one: (one.at, one.text))
        names = {_folded(word.text) for word in ordered if is_name(word)}
        names -= {_folded(word.text) for word in ordered if word.text[:1].islower()}
        for word in ordered:
            own = _code(word.language)
            language = own if own in _LANGUAGES else self._languages[0]
            texts = [word.text, parted(word)[1]]
            whole = [text for text in texts if len(text) >= SHORTEST]
            for part in dict.fromkeys([*whole, *_parts(word.text)]):
                # A name seen elsewhere stays one where it begins a sentence.
                named = is_name(word) or (word.text[:1].isupper() and _folded(part) in names)
                binds = _folded(part) in COMMON_WORDS
                key = "=" + _folded(part) if named or binds else f"{language} {word_stem(part, language)}"
                self._said[key].append((word, part))
        self._synonyms: dict[str, set[tuple[str, str]]] = defaultdict(set)
        for head, meaning in (synonyms or {}).items():
            keys = {(key, word) for text in meaning for word in _parts(text) for key in self._keys(word)}
            for key in self._keys(head):
                self._synonyms[key] |= keys
        carried: dict[str, int] = defaultdict(int)
        for tags in subjects:
            for tag in set(tags):
                carried[tag] += 1
        self._found = {tag: self._occurrences(tag, count) for tag, count in carried.items()}

    def _keys(self, word: str) -> tuple[str, ...]:
        """What any form of a word of a tag is kept under, in each language of the film and as a name."""
        return ("=" + _folded(word), *(f"{code} {word_stem(word, code)}" for code in self._languages))

    def _occurrences(self, tag: str, carried: int) -> tuple[tuple[list[Spoken], float], ...]:
        """For each word of a tag: where it or a synonym is said, and what each time weighs."""
        found = []
        for word in dict.fromkeys((*_parts(tag), tag)):
            keys = {(key, word) for key in self._keys(word)}
            for key, _ in tuple(keys):
                keys |= self._synonyms.get(key, set())
            said = {
                w for key, meant in keys for w, part in self._said.get(key, ()) if _agree(key, meant, part)
            }
            if said:
                weight = 1 / (1 + log2(len(said))) / carried**0.25
                found.append((sorted(said, key=lambda w: (w.at, w.text)), weight))
        return tuple(found)

    def match(self, tags: Sequence[str], span: Span, reach: int) -> Match | None:
        """The heaviest word said within `reach` frames of a span that names one of these tags.

        Outside of the span a word counts as `BESIDE` of it. Of equals the one nearest to the beginning of the
        span, then the earliest.
        """
        best: tuple[float, int, int, str, Spoken] | None = None
        for tag in tags:
            for words, weight in self._found.get(tag, ()):
                first = bisect_left(words, span.start - reach, key=_frame)
                for word in words[first : bisect_left(words, span.end + reach, key=_frame)]:
                    here = weight if word.at in span else BESIDE * weight
                    row = (-here, abs(word.at - span.start), word.at, tag, word)
                    if best is None or row[:4] < best[:4]:
                        best = row
        if best is None:
            return None
        return Match(best[4].text, best[3], best[2], -best[0])

    def heaviest(self) -> dict[int, float]:
        """For every frame at which a subject is named, the weight of the heaviest word."""
        found: dict[int, float] = {}
        for words, weight in (group for groups in self._found.values() for group in groups):
            for word in words:
                found[word.at] = max(weight, found.get(word.at, 0.0))
        return found

    def occurrences(self) -> Iterator[tuple[str, NDArray[np.int64], float]]:
        """Every subject with the frames at which a word of it is said, and what each time weighs."""
        for tag, groups in self._found.items():
            for words, weight in groups:
                yield tag, np.array([word.at for word in words], dtype=np.int64), weight

    def weights(
        self, spans: Sequence[Span], moments: Sequence[Sequence[str]], reach: int
    ) -> NDArray[np.float64]:
        """The weight of the best match of every moment's tags in every span: shape (spans, moments)."""
        starts = np.array([span.start for span in spans], dtype=np.int64)
        ends = np.array([span.end for span in spans], dtype=np.int64)
        result = np.zeros((len(spans), len(moments)))
        carriers: dict[str, list[int]] = defaultdict(list)
        for number, tags in enumerate(moments):
            for tag in dict.fromkeys(tags):
                carriers[tag].append(number)
        for tag, numbers in carriers.items():
            for words, weight in self._found.get(tag, ()):
                frames = np.array([word.at for word in words])
                for further, counts in ((reach, BESIDE * weight), (0, weight)):
                    hit = frames.searchsorted(starts - further) < frames.searchsorted(ends + further)
                    cells = np.ix_(np.flatnonzero(hit), np.array(numbers))
                    result[cells] = np.maximum(result[cells], counts)
        return result
