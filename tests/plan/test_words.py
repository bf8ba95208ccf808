"""Words spoken in a film and the tags of its pictures."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import snowballstemmer
from hypothesis import given
from hypothesis import strategies as st

from mltassist.frames import Rate, Span
from mltassist.media.transcript import Transcript, Word
from mltassist.plan.words import Matcher, Spoken, stem
from mltassist.said import through_the_edit
from mltassist.timeline.model import Clip, Source, SourceKind


def said(text: str, language: str = "en", step: int = 10) -> list[Spoken]:
    words = text.split()
    opens = [n == 0 or words[n - 1].endswith(".") for n in range(len(words))]
    return [
        Spoken(word.strip(".,"), n * step, language, opens=first)
        for n, (word, first) in enumerate(zip(words, opens, strict=True))
    ]


# Pairs from the vocabularies that the Snowball project publishes with its stemmers (from memory).
@pytest.mark.parametrize(
    ("language", "one", "other"),
    [
        ("en", "running", "run"),
        ("en", "gates", "gate"),
        ("en", "consisting", "consists"),
        ("de", "aufeinanderschlügen", "aufeinanderschlüge"),
        ("fr", "continuellement", "continuelle"),
        ("es", "torneados", "torneado"),
        ("it", "abbandonata", "abbandonato"),
    ],
)
def test_forms_of_a_word_have_one_stem(language, one, other):
    assert stem(one, language) == stem(other, language)


def test_stems_are_those_of_the_library():
    ours = snowballstemmer.stemmer("english")
    for word in ("millstones", "flooding", "ground", "winches"):
        assert stem(word, "en") == ours.stemWord(word)
    assert stem("Mühlen", "") == "mühlen"
    assert stem("wheel’s", "en") == "wheel"


def test_a_tag_is_found_in_any_form_and_told_with_the_word():
    words = said("They opened the gates. The wheels were turning all night")
    matcher = Matcher(words, [("sluice gate",), ("wheel",), ("gulls",)])
    found = matcher.match(("sluice gate",), Span(20, 60), 20)
    assert found is not None
    assert (found.word, found.tag, found.at) == ("gates", "sluice gate", 30)
    assert matcher.match(("gulls",), Span(0, 200), 50) is None
    assert matcher.match(("wheel",), Span(0, 20), 10) is None  # said at 50


def test_names_match_letter_for_letter():
    words = said("He says that Wren came. the wrens were singing")
    matcher = Matcher(words, [("wren",), ("tobias wren",)])
    assert {m.at for m in [matcher.match(("tobias wren",), Span(30, 31), 0)] if m} == {30}
    birds = Matcher(said("we heard Wrens there"), [("wren",)])
    assert birds.match(("wren",), Span(0, 100), 0) is None  # a name of its own, not many of one


def test_synonyms_of_the_recipe_count():
    words = said("and the tide came in")
    assert Matcher(words, [("creek",)]).match(("creek",), Span(0, 99), 0) is None
    found = Matcher(words, [("creek",)], {"creek": ("tides", "water")}).match(("creek",), Span(0, 99), 0)
    assert found is not None
    assert found.word == "tide"


def test_rare_words_weigh_more():
    words = said("wheel wheel wheel wheel winch")
    matcher = Matcher(words, [("wheel",), ("winch",)])
    found = matcher.match(("wheel", "winch"), Span(0, 99), 0)
    assert found is not None
    assert found.word == "winch"
    assert found.weight == 1.0
    common = matcher.match(("wheel",), Span(0, 99), 0)
    assert common is not None
    assert common.weight == pytest.approx(1 / 3)  # said four times: 1 / (1 + log2 4)


tags = st.lists(st.sampled_from(["wheel", "gate", "gulls", "tide mill", "Wren"]), max_size=3).map(tuple)
texts = st.lists(
    st.sampled_from(["the", "wheels", "gate", "gated", "gull", "Wren", "mill", "tides", "a", "of"]),
    max_size=12,
)
places = st.builds(lambda a, n: Span(a, a + n), st.integers(0, 120), st.integers(1, 40))


@given(
    texts,
    st.lists(tags, min_size=1, max_size=5),
    st.lists(places, min_size=1, max_size=5),
    st.integers(0, 20),
)
def test_all_weights_at_once_are_those_of_each_match(words, moments, spans, reach):
    matcher = Matcher(said(" ".join(words)), moments, {"mill": ("of", "tides")})
    table = matcher.weights(spans, moments, reach)
    for row, span in enumerate(spans):
        for column, moment in enumerate(moments):
            found = matcher.match(moment, span, reach)
            assert table[row, column] == pytest.approx(found.weight if found else 0.0)
    assert np.all(table <= 1)


SOURCE = Source("/talk.mov", SourceKind.FILE)


@given(
    times=st.lists(st.integers(0, 20000), max_size=20).map(sorted),
    start=st.integers(0, 1000),
    source_in=st.integers(0, 400),
    length=st.integers(1, 300),
    rate=st.sampled_from([Rate(25), Rate(30000, 1001), Rate(24)]),
)
def test_words_follow_the_edit(times, start, source_in, length, rate):
    transcript = Transcript(tuple(Word(f"w{n}", at) for n, at in enumerate(times)), "en")
    found = list(through_the_edit(transcript, Clip(start, length, SOURCE, source_in), rate))
    expected = []
    for n, at in enumerate(times):
        for frame in range(source_in, source_in + length):  # the frame that is on screen at that time
            if Fraction(frame) / rate.fraction <= Fraction(at, 1000) < Fraction(frame + 1) / rate.fraction:
                expected.append((f"w{n}", start + frame - source_in))
    assert [(word.text, word.at) for word in found] == expected
