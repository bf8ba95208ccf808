"""Words spoken in a film and the tags of its pictures."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import snowballstemmer
from hypothesis import given
from hypothesis import strategies as st

from mltassist.cutaways.planner.words import BESIDE, Matcher, Spoken, umlauts_agree, word_stem
from mltassist.frames import Rate, Span
from mltassist.media.words.interface import SpokenLine, TimedWord
from mltassist.rushes.speech import through_the_edit
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
    assert word_stem(one, language) == word_stem(other, language)


def test_stems_are_those_of_the_library():
    ours = snowballstemmer.stemmer("english")
    for word in ("millstones", "flooding", "ground", "winches"):
        assert word_stem(word, "en") == ours.stemWord(word)
    assert word_stem("Mühlen", "") == "mühlen"
    assert word_stem("wheel’s", "en") == "wheel"


def test_a_word_counts_most_while_its_shot_is_seen():
    matcher = Matcher(said("The gulls are back on the mud"), [("gulls",)])
    (at,) = (frames[0] for _, frames, _ in matcher.occurrences())
    spans = [Span(at, at + 50), Span(at + 1, at + 51), Span(at - 50, at), Span(at + 51, at + 99)]
    found = [matcher.match(("gulls",), span, 50) for span in spans]
    assert [one and one.weight for one in found] == [1.0, BESIDE, BESIDE, None]
    assert matcher.weights(spans, [("gulls",)], 50)[:, 0].tolist() == [1.0, BESIDE, BESIDE, 0.0]


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


def test_each_word_of_a_tag_has_a_weight_of_its_own():
    words = said("the wall the tide the mill")
    found = Matcher(words, [("wall of the mill",)]).match(("wall of the mill",), Span(0, 60), 0)
    assert found is not None
    assert (found.word, found.weight) == ("wall", 1.0)  # "the" is nearer, and said three times
    only_the = Matcher(words, [("wall of the mill",)]).match(("wall of the mill",), Span(20, 40), 0)
    assert only_the is not None
    assert only_the.weight == pytest.approx(1 / (1 + np.log2(3)))


@pytest.mark.parametrize(
    ("words", "tag"),
    [
        ("turning the water-wheels", "wheel"),
        ("turning the water-wheels", "water-wheel"),
        ("NOW THE WHEELS TURN", "wheel"),
        ("open the gate", "sluice_gate"),
        ("open the gate", "Gates"),
    ],
)
def test_spelling_does_not_hide_a_word(words, tag):
    assert Matcher(said(words), [(tag,)]).match((tag,), Span(0, 99), 0) is not None


def test_an_accent_may_stand_apart_from_its_letter():
    # Unicode's NFC and NFD forms of one word; some file systems give names in the second.
    tag = "mu\u0308hle"
    assert Matcher(said("die Mühlen", "de"), [(tag,)]).match((tag,), Span(0, 99), 0) is not None


def test_a_name_stays_one_where_it_begins_a_sentence():
    words = said("Gates came. And Gates spoke")
    assert Matcher(words, [("gate",)]).match(("gate",), Span(0, 99), 0) is None
    found = Matcher(words, [("gates",)]).match(("gates",), Span(0, 99), 0)
    assert found is not None
    assert found.at == 0


def test_each_transcript_keeps_its_language():
    words = [*said("wheels are turning"), *(Spoken(w.text, w.at + 100, "deu") for w in said("die Mühlen"))]
    matcher = Matcher(words, [("wheel", "mühle")])
    assert [m.word for m in [matcher.match(("wheel", "mühle"), Span(0, 90), 0)] if m] == ["wheels"]
    assert [m.word for m in [matcher.match(("wheel", "mühle"), Span(100, 190), 0)] if m] == ["Mühlen"]


@pytest.mark.parametrize(
    ("code", "short"), [("eng", "en"), ("ger", "de"), ("spa", "es"), ("dut", "nl"), ("pt-BR", "pt")]
)
def test_languages_are_known_by_either_code(code, short):
    # ISO 639-2 codes (terms and bibliographic) beside those of ISO 639-1.
    examples = {"en": "turning", "de": "mühlen", "es": "molinos", "nl": "molens", "pt": "moinhos"}
    assert word_stem(examples[short], code) == word_stem(examples[short], short) != examples[short]


def test_a_long_code_is_not_cut_to_another_language():
    # est is Estonian, es Spanish; rum is Romanian, ru Russian (ISO 639-2, 639-1).
    assert [word_stem(w, "est") for w in ("torneados", "sluice")] == [
        word_stem(w, "et") for w in ("torneados", "sluice")
    ]
    assert word_stem("торговали", "rum") == "торговали" != word_stem("торговали", "ru")


def test_synonyms_stand_for_tags_of_several_words():
    words = said("then the winch was wound")
    found = Matcher(words, [("sluice gate",)], {"Sluice gate": ("winches",)})
    assert [m.word for m in [found.match(("sluice gate",), Span(0, 99), 0)] if m] == ["winch"]


tags = st.lists(
    st.sampled_from(["wheel", "gate", "gulls", "tide mill", "wall of the mill", "Wren"]), max_size=3
).map(tuple)
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
    heaviest = matcher.heaviest()
    every = tuple({tag for moment in moments for tag in moment})
    for at in range(0, 130, 10):  # words fall on whole tens
        found = matcher.match(every, Span(at, at + 1), 0)
        assert heaviest.get(at, 0.0) == pytest.approx(found.weight if found else 0.0)


SOURCE = Source("/talk.mov", SourceKind.FILE)


@given(
    times=st.lists(st.integers(0, 20000), max_size=20).map(sorted),
    start=st.integers(0, 1000),
    source_in=st.integers(0, 400),
    length=st.integers(1, 300),
    rate=st.sampled_from([Rate(25), Rate(30000, 1001), Rate(24)]),
)
def test_words_follow_the_edit(times, start, source_in, length, rate):
    line = SpokenLine(tuple(TimedWord(f"w{n}", at, at + 90) for n, at in enumerate(times)))
    found = list(through_the_edit([line], [Clip(start, length, SOURCE, source_in)], rate))
    expected = []
    for n, at in enumerate(times):
        for frame in range(source_in, source_in + length):  # the frame that is on screen at that time
            if Fraction(frame) / rate.fraction <= Fraction(at, 1000) < Fraction(frame + 1) / rate.fraction:
                expected.append((f"w{n}", start + frame - source_in))
    assert [(word.text, word.at) for word in found] == expected
    assert all(word.length >= 1 and word.at + word.length <= start + length for word in found)


# Plurals, genitives and comparatives of any German grammar, and words that are none of each other.
@pytest.mark.parametrize(
    ("tag", "word", "same"),
    [
        ("Haus", "Häuser", True),
        ("Häuser", "Hauses", True),
        ("Garten", "Gärten", True),
        ("Vögel", "Vogels", True),
        ("kuh", "Kühe", True),
        ("groß", "größer", True),
        ("Säge", "Sägen", True),
        ("Säge", "sägen", True),
        ("Säge", "sagen", False),
        ("Sägen", "sagen", False),
        ("zählen", "zahlen", False),
        ("schön", "schon", False),
    ],
)
def test_an_umlaut_tells_forms_of_a_word_from_other_words(tag, word, same):
    assert umlauts_agree(tag, word, noun=word[0].isupper()) is same
    words = [Spoken(text, at, "de") for at, text in enumerate(("wir", word))]
    assert (Matcher(words, [(tag,)]).match([tag], Span(0, 2), 0) is not None) is same
    # The same where the recipe says that something else is meant by it.
    meant = Matcher(words, [("Bild",)], {"Bild": (tag,)}).match(["Bild"], Span(0, 2), 0)
    assert (meant is not None) is same


def test_words_that_only_bind_name_nothing_that_is_written_otherwise():
    words = said("un gramo de más y se nota", "es")
    assert Matcher(words, [("masa",)]).match(["masa"], Span(0, 100), 0) is None
    assert Matcher(words, [("más",)]).match(["más"], Span(0, 100), 0) is not None
