"""How English words sound that no dictionary has: sounds from letters, and numbers as words.

The sounds are the 39 of the CMU dictionary, which the acoustic model knows. A name that is read off its
letters sounds near enough to be found where it is said; nothing else is taken from this.
"""

from __future__ import annotations

import re
from unicodedata import normalize

_SOUNDS = {
    "tion": "SH AH N",
    "sion": "ZH AH N",
    "ough": "AO",
    "augh": "AO",
    "eigh": "EY",
    "igh": "AY",
    "tch": "CH",
    "sch": "SH",
    "dge": "JH",
    "eau": "OW",
    "ch": "CH",
    "sh": "SH",
    "th": "TH",
    "ph": "F",
    "wh": "W",
    "ck": "K",
    "ng": "NG",
    "qu": "K W",
    "gh": "G",
    "kn": "N",
    "wr": "R",
    "ee": "IY",
    "ea": "IY",
    "ie": "IY",
    "oo": "UW",
    "ou": "AW",
    "ow": "OW",
    "oa": "OW",
    "oi": "OY",
    "oy": "OY",
    "ai": "EY",
    "ay": "EY",
    "ei": "EY",
    "ey": "IY",
    "au": "AO",
    "aw": "AO",
    "ew": "UW",
    "ue": "UW",
    "ar": "AA R",
    "er": "ER",
    "ir": "ER",
    "ur": "ER",
    "or": "AO R",
    "a": "AE",
    "b": "B",
    "c": "K",
    "d": "D",
    "e": "EH",
    "f": "F",
    "g": "G",
    "h": "HH",
    "i": "IH",
    "j": "JH",
    "k": "K",
    "l": "L",
    "m": "M",
    "n": "N",
    "o": "OW",
    "p": "P",
    "q": "K",
    "r": "R",
    "s": "S",
    "t": "T",
    "u": "AH",
    "v": "V",
    "w": "W",
    "x": "K S",
    "y": "IY",
    "z": "Z",
}
_SPELT = re.compile("|".join(sorted(_SOUNDS, key=len, reverse=True)))
_ALIKE = [
    set(pair.split("-"))
    for pair in re.findall(
        r"\S+", "IH-IY UH-UW EH-AE AA-AO AA-AH P-B T-D K-G F-V S-Z SH-ZH TH-DH CH-JH M-N N-NG"
    )
]
"""Sounds that differ in voice alone, vowels in length alone, and nasals: what ears confuse (from memory)."""
_ONES = re.findall(
    r"\w+",
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen",
)
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_PARTS = re.compile(r"[a-z]+(?:'[a-z]+)*|\d+")


def sounds_of(word: str) -> str:
    """A guess at the sounds of an English word in lower case, with spaces between; "" where it has none."""
    plain = re.sub(r"[^a-z]", "", word)
    plain = re.sub(r"([^eo])\1", r"\1", plain)
    if len(plain) > 3:
        plain = re.sub(r"(?<=[^aeiou])e$", "", plain)
    return " ".join(_SOUNDS[part] for part in _SPELT.findall(plain))


def alike(one: str, other: str) -> bool:
    """Whether two rows of sounds, with spaces between, differ in a single one that is easily misheard."""
    first, second = one.split(), other.split()
    if len(first) != len(second):
        return False
    unlike = [{a, b} for a, b in zip(first, second, strict=True) if a != b]
    return len(unlike) == 1 and unlike[0] in _ALIKE


def spoken_parts(text: str) -> list[str]:
    """The English words, in lower case, that are said for one written word: 1984, mill-wheel, café."""
    bare = "".join(c for c in normalize("NFKD", text.casefold().replace("’", "'")) if c.isascii())
    parts: list[str] = []
    for part in _PARTS.findall(bare):
        parts += number_words(part) if part.isdigit() else [part]
    return parts


def number_words(digits: str) -> list[str]:
    """A whole number as it is mostly said; four digits from 1100 to 1999 as a year, long ones one by one."""
    value = int(digits)
    if len(digits) > 6 or (len(digits) > 1 and digits[0] == "0"):
        return [_ONES[int(digit)] for digit in digits]
    if 1100 <= value < 2000:
        rest = _below_hundred(value % 100) if value % 100 else ["hundred"]
        return [*_below_hundred(value // 100), *(["oh"] if 0 < value % 100 < 10 else []), *rest]
    return _whole(value)


def _whole(value: int) -> list[str]:
    if value >= 1000:
        return [*_whole(value // 1000), "thousand", *(_whole(value % 1000) if value % 1000 else [])]
    if value >= 100:
        # Some say "and" here: where it is said and not awaited, it counts to the word beside it.
        return [_ONES[value // 100], "hundred", *(_below_hundred(value % 100) if value % 100 else [])]
    return _below_hundred(value)


def _below_hundred(value: int) -> list[str]:
    if value < 20:
        return [_ONES[value]]
    return [_TENS[value // 10 - 2], *([_ONES[value % 10]] if value % 10 else [])]
