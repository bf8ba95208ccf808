"""Words that turn the sense of what was said when they are left out: they deserve a second look."""

from __future__ import annotations

import re
from collections.abc import Sequence


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"\S+", text))


_NEGATIONS = {
    "en": _words(
        "not never no none nothing nobody nowhere neither nor without cannot hardly scarcely unless"
    ),
    "de": _words(
        "nicht nie niemals nimmer kein keine keinen keinem keiner keines nichts niemand nirgends weder "
        "ohne kaum"
    ),
    "fr": _words("ne non pas jamais rien personne aucun aucune sans guère ni"),
    "es": _words("no nunca jamás nada nadie ninguno ninguna ningún sin tampoco ni"),
    "it": _words("non no mai niente nulla nessuno nessuna nessun senza né neanche neppure"),
    "pt": _words("não nunca jamais nada ninguém nenhum nenhuma sem nem"),
    "nl": _words("niet nee nooit geen niets niemand zonder nergens"),
}
"""From memory. A word too many costs a look, a word too few the sense."""
_CONDITIONS = {
    "en": _words("if unless only except provided otherwise"),
    "de": _words("wenn falls sofern nur außer ausser sonst"),
    "fr": _words("si seulement sauf sinon uniquement"),
    "es": _words("si solo sólo solamente salvo excepto"),
    "it": _words("se solo soltanto tranne eccetto altrimenti"),
    "pt": _words("se só somente exceto salvo"),
    "nl": _words("als indien mits tenzij alleen behalve anders"),
}
"""Also from memory: what narrows that which is said. "But" is left out, for it stands everywhere."""
_NUMBERS = {
    "en": _words(
        "zero two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
        "seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred thousand "
        "million billion half third quarter dozen percent twice"
    ),
    "de": _words(
        "null zwei drei vier fünf sechs sieben acht neun zehn elf zwölf zwanzig dreissig dreißig vierzig "
        "fünfzig sechzig siebzig achtzig neunzig hundert tausend million hälfte drittel prozent"
    ),
    "fr": _words(
        "zéro deux trois quatre cinq six sept huit neuf dix onze douze vingt trente quarante cinquante "
        "soixante cent mille million moitié"
    ),
    "es": _words(
        "cero dos tres cuatro cinco seis siete ocho nueve diez once doce veinte treinta cuarenta cincuenta "
        "sesenta cien ciento mil millón mitad"
    ),
    "it": _words(
        "zero due tre quattro cinque sei sette otto nove dieci undici dodici venti trenta quaranta cinquanta "
        "cento mille milione metà"
    ),
}
"""Number words from memory; digits count in any language. "One" is mostly no number, and is left out."""


def is_negation(word: str, language: str = "") -> bool:
    """True for a word that denies, and for those that end so (isn't, won't)."""
    plain = word.casefold().replace("’", "'")
    return plain in _of(_NEGATIONS, language) or plain.endswith("n't")


def is_condition(word: str, language: str = "") -> bool:
    """True for a word that makes what is said hold under a condition, or for a part, only."""
    return word.casefold() in _of(_CONDITIONS, language)


def is_number(word: str, language: str = "") -> bool:
    """True for digits and for words that count."""
    parts = re.split(r"[-‐]", word.casefold())
    return any(any(c.isdigit() for c in part) or part in _of(_NUMBERS, language) for part in parts)


def second_looks(words: Sequence[str], names: Sequence[bool], language: str = "") -> tuple[str, ...]:
    """What among words left out asks for a second look: "negation", "condition", "number", "name".

    names: for each word whether it is one.
    """
    found = {
        "negation": any(is_negation(word, language) for word in words),
        "condition": any(is_condition(word, language) for word in words),
        "number": any(is_number(word, language) for word in words),
        "name": any(names),
    }
    return tuple(kind for kind, there in found.items() if there)


def _of(lists: dict[str, frozenset[str]], language: str) -> frozenset[str]:
    """The list of a language; of one that is not known or has none, all of them."""
    code = re.split("[-_]", language.lower())[0][:2]
    return lists.get(code) or frozenset().union(*lists.values())
