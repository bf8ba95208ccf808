"""Words taken for things, beside the nouns of a tagger that is not ours.

It is HanTa (PyPI: HanTa 1.2.1), which is installed by hand: its models take 14 MB.
"""

from __future__ import annotations

import re
from collections import Counter

import pytest

from mltassist.cutaways.planner.things import names_things, thing_of
from mltassist.cutaways.planner.words import Spoken
from mltassist.demofilm.script import INES, NARRATOR, TOBIAS
from tests.cutaways.test_things import spoken


def test_things_are_nouns():
    """In the words of the example film. Nouns said without an article are missed; hardly any is made up."""
    tagger = pytest.importorskip("HanTa.HanoverTagger").HanoverTagger("morphmodel_en.pgz")
    sentences = [sentence for talk in (INES, TOBIAS, NARRATOR) for sentence in talk.sentences]
    nouns: Counter[tuple[str, str]] = Counter()
    for sentence in sentences:
        for word, _, tag in tagger.tag_sent(re.findall(r"[\w'’-]+|[.,]", sentence)):
            nouns[thing_of(Spoken(word, 0, "en"))] += 1 if tag.startswith("N") else -1
    things = names_things(spoken(" ".join(sentences), "en"))
    wrong = {stem for _, stem in things if nouns["en", stem] < 0}
    assert len(things) >= 30
    assert len(wrong) <= 0.1 * len(things), sorted(wrong)
