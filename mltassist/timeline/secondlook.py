"""Words that turn the sense of what was said when they are left out: they deserve a second look."""

from __future__ import annotations

import re
from collections.abc import Sequence

NEGATIONS = frozenset(
    re.findall(
        r"\S+",
        """
        not never no none nothing nobody nowhere neither nor without cannot hardly scarcely
        nicht nie niemals nimmer kein keine keinen keinem keiner keines nichts niemand nirgends weder
        ohne kaum
        ne pas jamais rien personne aucun aucune sans guère ni
        nunca jamás nada nadie ninguno ninguna ningún sin tampoco
        non mai niente nulla nessuno nessuna nessun senza né neanche neppure
        não ninguém nenhum nenhuma sem nem
        niet nooit geen niets niemand zonder nergens
        """,
    )
)
"""From memory, of English, German, French, Spanish, Italian, Portuguese and Dutch.

One list for all: a word too many costs a look, a word too few the sense.
"""
_NUMBERS = frozenset(
    re.findall(
        r"\S+",
        """
        zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen
        seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred thousand
        million billion half third quarter dozen first second percent
        null eins zwei drei vier fünf sechs sieben acht neun zehn elf zwölf zwanzig dreissig dreißig vierzig
        fünfzig sechzig siebzig achtzig neunzig hundert tausend
        deux trois quatre cinq sept huit neuf dix onze douze vingt trente quarante cinquante soixante cent
        mille
        dos tres cuatro cinco seis siete ocho nueve diez once doce veinte treinta cuarenta cincuenta ciento
        mil
        due tre quattro cinque sei sette otto nove dieci undici dodici venti trenta quaranta cinquanta cento
        """,
    )
)
"""Number words, from memory; digits count in any language."""


def is_negation(word: str) -> bool:
    """True for a word that denies, and for those that end so (isn't, won't)."""
    plain = word.casefold().replace("’", "'")
    return plain in NEGATIONS or plain.endswith("n't")


def is_number(word: str) -> bool:
    """True for digits and for words that count."""
    parts = re.split(r"[-‐]", word.casefold())
    return any(any(c.isdigit() for c in part) or part in _NUMBERS for part in parts)


def second_looks(words: Sequence[str], names: Sequence[bool]) -> tuple[str, ...]:
    """What among words left out asks for a second look: "negation", "number", "name" (`names`: for each)."""
    found = {
        "negation": any(is_negation(word) for word in words),
        "number": any(is_number(word) for word in words),
        "name": any(names),
    }
    return tuple(kind for kind, there in found.items() if there)
