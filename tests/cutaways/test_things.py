"""Which words name a thing that a camera could have filmed, and what is asked for of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import pysubs2
import pytest

from mltassist.cutaways.planner.film import Moment
from mltassist.cutaways.planner.stock import sentences_at, stock_of, unfilmed
from mltassist.cutaways.planner.things import in_a_language, names_things, small_things, thing_of
from mltassist.cutaways.planner.words import Matcher, Spoken
from mltassist.demofilm.script import INES, NARRATOR, TOBIAS
from mltassist.frames import Span
from mltassist.media.transcript import words_of
from tests.cutaways.films import task_of

SAID = {
    "en": (
        """
        She never comes twice. The ferry always comes at noon, and the ferry never waits. We
        always loved the ferry. Whoever comes twice, the ferry is never full. It comes twice,
        always.
        """,
        {"ferry"},
    ),
    "de": (
        """
        Immer kommt die Fähre zweimal. Niemals kommt hier eine Fähre immer zurück. Wir sehen, die
        Fähre kommt niemals leer. Sie kommt immer, sagt man. Zweimal kommt niemals jemand mit der
        Fähre, immer zweimal.
        """,
        {"Fähre"},
    ),
    "fr": (
        """
        Le bateau revient toujours deux fois. Jamais il ne revient vide, toujours il repart, et
        l'écluse attend. On regarde le bateau. Jamais le bateau ne revient avant nous, jamais
        l'écluse ne dort. Il revient toujours dans l'écluse, un bateau qui revient. Jamais sans
        l'écluse.
        """,
        {"bateau", "écluse"},
    ),
    "es": (
        """
        El barco siempre vuelve dos veces. Nunca vuelve vacío, siempre llega el barco. Siempre
        esperamos un barco que vuelve. Nunca vuelve nadie sin el barco, nunca, siempre despacio.
        """,
        {"barco"},
    ),
    "it": (
        """
        La barca torna sempre due volte. Mai torna vuota, sempre arriva la barca. Sempre
        aspettiamo una barca che torna. Mai torna nessuno senza la barca, mai, sempre piano, e
        l'acqua sale. L'acqua scende, l'acqua sempre, l'acqua mai.
        """,
        {"acqua", "barca"},
    ),
    "pl": (
        """
        Prom zawsze wraca dwa razy. Nigdy nie wraca pusty. Latarnia zawsze świeci, nigdy latarnia
        nie gaśnie, a latarnia zawsze wraca. Nigdy latarnia, nigdy.
        """,
        {"Latarnia"},
    ),
}
"""Written for this test: the same ferry in each language, among words said as often that name nothing."""


def spoken(text: str, language: str = "") -> tuple[Spoken, ...]:
    """The words of a text as they are read from a line of subtitles, ten frames apart."""
    line = pysubs2.SSAEvent(text=text, start=0, end=1000)
    return tuple(
        Spoken(word.text, 10 * n, language, word.opens, word.after) for n, word in enumerate(words_of(line))
    )


@pytest.mark.parametrize("language", list(SAID))
@pytest.mark.parametrize("told", [True, False])
def test_only_things_are_asked_for(language, told):
    text, things = SAID[language]
    words = spoken(text, language if told else "")
    often = {word for word, times in Counter(w.text.casefold() for w in words).items() if times >= 4}
    assert len(often) > len(things)  # there is something not to ask for
    asked = {row.word for row in unfilmed(replace(task_of(("ines", 5000)), words=words))}
    if language == "pl":  # no articles: what no stop list holds is asked for too
        assert things <= asked
        assert not asked & {"zawsze", "Nigdy", "nigdy"}
    else:
        assert asked == things


def test_the_example_film_asks_for_nothing_that_is_no_thing():
    sentences = " ".join(sentence for talk in (INES, TOBIAS, NARRATOR) for sentence in talk.sentences)
    words = in_a_language(spoken(" ".join([sentences] * 2)))
    assert {word.language for word in words} == {"en"}
    things = names_things(words)
    forms = {thing_of(word) for word in words}
    for word in ("twice", "comes", "never", "always", "rising", "when", "ready", "perhaps", "really"):
        assert thing_of(Spoken(word, 0, "en")) in forms - things
    for word in ("lantern", "boat", "chain", "grandfather", "knot", "wheel", "ledger"):
        assert thing_of(Spoken(word, 0, "en")) in things
    asked = {row.word for row in unfilmed(replace(task_of(("ines", 9000)), words=words))}
    assert {"water", "tide", "wheel", "gate"} <= asked
    assert not asked & {"Twice", "comes", "never", "always", "get", "here", "somebody", "I'm"}


def test_a_word_with_its_article_tied_to_it_is_found():
    words = spoken("On ouvre l'écluse. L’eau monte", "fr")
    for tag, word in (("écluse", "l'écluse"), ("eau", "L’eau")):
        found = Matcher(words, [(tag,)]).match((tag,), Span(0, 99), 0)
        assert found is not None
        assert found.word == word


def told(words: Sequence[Spoken], near: Span) -> str:
    return " ".join(word.text + word.after for word in sentences_at(words, near))


def test_a_pick_up_tells_whole_sentences_word_by_word():
    words = spoken("Before that. The water, the water and the water rose! Nobody slept. And then?")
    (at,) = (word.at for word in words if word.text == "and")
    assert told(words, Span(at, at + 1)) == "The water, the water and the water rose!"
    (slept,) = (word.at for word in words if word.text == "slept")
    assert told(words, Span(at, slept + 1)) == "The water, the water and the water rose! Nobody slept."
    assert not told(words, Span(slept + 500, slept + 600))


def test_a_sentence_without_marks_ends_where_its_line_does():
    lines = [spoken("the water rose"), spoken("nobody slept")]
    words = tuple(replace(word, at=word.at + 100 * n) for n, line in enumerate(lines) for word in line)
    assert told(words, Span(110, 111)) == "nobody slept"
    endless = tuple(Spoken("on", 10 * n) for n in range(500))
    assert len(sentences_at(endless, Span(2000, 2011))) == 2 + 2 * 30


def test_small_things_are_asked_for_close_and_what_was_not_taken_wide_is_not():
    def lacking(subject: str, *sizes: str) -> tuple[str, ...]:
        supply = tuple(Moment(f"/{size}.mov", Span(0, 90), "", size, (subject,)) for size in sizes)
        (row,) = stock_of(task_of(("ines", 900), supply=supply), ())
        return row.lacking

    assert lacking("page", "MS") == lacking("old ledgers", "WS") == ("CU",)
    assert lacking("page", "MS", "ECU") == ()
    assert lacking("mill pond", "CU") == ("WS", "MS")
    assert lacking("mill pond", "CU", "MCU") == ()  # it was there, and nobody went wide
    assert lacking("mill pond", "WS") == ("MS", "CU")
    assert small_things(["Seiten", "libros", "la main", "mill", "clé"]) == {
        "Seiten",
        "libros",
        "la main",
        "clé",
    }
