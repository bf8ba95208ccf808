"""Which words of a film name a thing that a camera could have filmed.

A noun is known by the company it keeps: in a language with articles, a word said after "the" or "of" is
one, and "never", "twice" or "comes" never are. German writes its nouns with a capital. In languages of
which neither helps, words that a stop list holds are left out, and the rest may be things. Sentences are
looked at as they are heard in the film.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cache

from mltassist.cutaways.planner.thingwords import (
    BEFORE_NOUNS,
    BEFORE_OBJECTS,
    BETWEEN,
    NOT_SEEN,
    SMALL,
)
from mltassist.cutaways.planner.words import Spoken, language_of, parted, word_stem
from mltassist.timeline.commonwords import COMMON_WORDS

SHARE = 1 / 3
"""Part of the times a word is said that must show it as a noun; ambiguous words are mostly said otherwise."""
LONG_WORD = 5
"""Letters of a thing's name where a stop list alone tells: shorter words mostly bind others together."""
CAPITALS = "de"
GUESSED = 0.25
OTHERS = ("sv", "da", "nb", "fi", "pl", "cs", "sk", "ru", "uk", "hu", "ro", "tr", "el")
"""Languages without articles, or with such as are part of the word, of which a stop list is known."""


def small_things(tags: Iterable[str]) -> frozenset[str]:
    """Those of these tags whose name, or the last word of it, is that of a small thing in any form of it."""
    known = {code: {word_stem(word, code) for word in words} for code, words in SMALL.items()}

    def is_small(tag: str) -> bool:
        words = tag.replace("_", " ").split()
        return bool(words) and any(word_stem(words[-1], code) in stems for code, stems in known.items())

    return frozenset(tag for tag in tags if is_small(tag))


def names_things(words: Sequence[Spoken]) -> frozenset[tuple[str, str]]:
    """Language and stem of every word that is mostly said as the name of a thing. words: in order."""
    said: Counter[tuple[str, str]] = Counter()
    shown: Counter[tuple[str, str]] = Counter()
    unseen = {language: _stems(language) for language in {language_of(word) for word in words}}
    capitals = _writes_capitals(words)
    for place, word in enumerate(words):
        key = thing_of(word)
        said[key] += 1
        shown[key] += _is_noun(words, place, capitals=capitals)
    return frozenset(
        key for key, times in said.items() if shown[key] >= SHARE * times and key[1] not in unseen[key[0]]
    )


def thing_of(word: Spoken) -> tuple[str, str]:
    """What all forms of a word share: its language, and its stem without an article that is tied to it."""
    language = language_of(word)
    return language, word_stem(parted(word)[1], language)


def in_a_language(words: Sequence[Spoken]) -> tuple[Spoken, ...]:
    """The words, those of which no language is told in the one whose stop list holds most of them.

    They stay as they are where it holds less than a quarter.
    """
    untold = [word.text.casefold() for word in words if not word.language]
    if not untold:
        return tuple(words)
    held = {code: sum(text in _stop_words(code) for text in untold) for code in (*BEFORE_NOUNS, *OTHERS)}
    code = max(held, key=lambda one: held[one])
    if held[code] < GUESSED * len(untold):
        return tuple(words)
    return tuple(word if word.language else replace(word, language=code) for word in words)


def _writes_capitals(words: Iterable[Spoken]) -> bool:
    """False where a German transcript writes everything alike: then capitals tell nothing."""
    inside = [word.text for word in words if language_of(word) == CAPITALS and not word.opens]
    return any(text[:1].isupper() and not text.isupper() for text in inside)


def _is_noun(words: Sequence[Spoken], place: int, *, capitals: bool) -> bool:
    word = words[place]
    text, language = word.text.casefold(), language_of(word)
    before = BEFORE_NOUNS.get(language)
    if text in BETWEEN or text in COMMON_WORDS or text in (before or ()):
        return False
    if language == CAPITALS and capitals:
        return word.text[:1].isupper() and not word.opens
    if before is None:
        return len(text) >= LONG_WORD and text not in _stop_words(language)
    return bool(parted(word)[0]) or _follows_article(words, place, language)


def _follows_article(words: Sequence[Spoken], place: int, language: str) -> bool:
    """True where a word stands behind an article or the like, and is no adjective before another word."""
    back = place
    while not words[back].opens and back and words[back - 1].text.casefold() in BETWEEN:
        back -= 1
    if words[back].opens or not back or words[back - 1].text.casefold() not in BEFORE_NOUNS[language]:
        return False
    if language in BEFORE_OBJECTS:
        earlier = words[back - 2].text.casefold() if back > 1 and not words[back - 1].opens else ""
        return earlier not in BEFORE_OBJECTS[language]
    # "the rising tide": what stands between an article and a noun is an adjective.
    following = words[place + 1] if place + 1 < len(words) else None
    if following is None or following.opens or words[place].after:
        return True
    return following.text.casefold() in _stop_words(language)


@cache
def _stems(language: str) -> frozenset[str]:
    return frozenset(word_stem(word, language) for word in NOT_SEEN)


@cache
def _stop_words(code: str) -> frozenset[str]:
    """The stop list of a language; empty where there is none."""
    from stop_words import LANGUAGE_MAPPING, get_stop_words  # noqa: PLC0415  (reads a table)

    return frozenset(get_stop_words(code)) if code in LANGUAGE_MAPPING else frozenset()
