"""Words that only bind others together: in a sentence they name nothing that can be seen."""

from __future__ import annotations

import re

SHORTEST = 3
"""Letters of the shortest word of a sentence that can name a thing."""

COMMON_WORDS = frozenset(
    re.findall(
        r"\S+",
        """
    Letters of the shortest word a sentence that can name thing.
    """,
    )
)
"""From memory: articles, prepositions, pronouns and auxiliaries of five languages, and an editor's praise.

Those that name a thing in another of them ("man", "hat", "son") are left out.
"""
