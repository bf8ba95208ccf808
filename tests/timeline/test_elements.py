"""What tells an element, in which order, and what does not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mltassist.recipe.rules import Recipe, parse_recipe
from mltassist.recipe.tradewords import TRADE_WORDS, trade_words
from mltassist.timeline.elements import (
    Element,
    Identification,
    clips_of,
    find_elements,
    size_of,
    subjects_of,
    unknown_sources,
)
from mltassist.timeline.model import BinClip
from tests.timeline.films import clip, in_bin, row, timeline, track

WORDS = Recipe().vocabulary()
GUESS = Identification(Element.NARRATION, "a guess, narration (80%: it speaks)", False, 0.8, judged=True)


def told(one: BinClip, recipe: str = "", guesses: dict[str, Identification] | None = None) -> Element | None:
    vocabulary = parse_recipe(recipe).vocabulary()
    return find_elements(timeline(bin_clips=[one]), vocabulary, guesses).of_source(one.source.key)


@pytest.mark.parametrize(
    ("text", "element"),
    [
        ("Interviews", Element.INTERVIEW),
        ("Ines - interview 2", Element.INTERVIEW),
        ("Narration", Element.NARRATION),
        ("VO", Element.NARRATION),
        ("VO2", Element.NARRATION),
        ("voice-over", Element.NARRATION),
        ("B-Roll", Element.CUTAWAY),
        ("Cutaways", Element.CUTAWAY),
        ("nat_gulls", Element.NATURAL),
        ("NAT 03", Element.NATURAL),
        ("03nat", Element.NATURAL),
        ("Natural sound", Element.NATURAL),
        ("Music (temp)", Element.MUSIC),
    ],
)
def test_words_of_the_trade_tell_the_element(text: str, element: Element) -> None:
    found = WORDS.spoken_of(text)
    assert found is not None
    assert found[0] is element


@pytest.mark.parametrize(
    "text", ["Native speakers", "alternate", "Volvo", "voices", "scored", "unsynced", "ivy", ""]
)
def test_a_word_inside_another_word_tells_nothing(text: str) -> None:
    assert WORDS.spoken_of(text) is None


def test_the_longest_word_wins() -> None:
    assert WORDS.spoken_of("natural sound of an interview room") == (Element.NATURAL, "natural sound*")
    assert WORDS.spoken_of("music for the interview") == (Element.INTERVIEW, "interview*")


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("bruitage*", "Bruitages de fin"),
        ("Geräusch*", "geräusche 04"),
        ("Geräusch*", "Gera\u0308usche"),
        ("природа", "Природа-2"),
        ("音楽", "音楽"),
    ],
)
def test_the_recipe_brings_the_words_of_other_languages(word: str, name: str) -> None:
    recipe = f'[words]\n"natural sound" = ["{word}"]\n'
    assert told(in_bin(name)) is None
    assert told(in_bin(name), recipe) is Element.NATURAL


def test_the_recipes_words_do_not_replace_those_of_the_trade() -> None:
    assert told(in_bin("Score"), '[words]\nmusic = ["musique"]\n') is Element.MUSIC


def test_pins_come_first_then_folder_tag_name_path_size_and_evidence() -> None:
    whole = in_bin("narration", "Interviews", ("music",), file="nats/x.mov")
    assert told(whole, '[pins]\n"narr*" = "cutaway"\n') is Element.CUTAWAY
    assert told(whole) is Element.INTERVIEW
    assert told(in_bin("narration", "Stuff", ("music",), file="nats/x.mov")) is Element.MUSIC
    assert told(in_bin("narration", file="nats/x.mov")) is Element.NARRATION
    assert told(in_bin("Mill CU", file="nats/x.mov")) is Element.NATURAL
    assert told(in_bin("Mill CU", file="x.mov"), "", {"/rushes/x.mov": GUESS}) is Element.CUTAWAY
    assert told(in_bin("Mill", file="x.mov"), "", {"/rushes/x.mov": GUESS}) is Element.NARRATION
    assert told(in_bin("Mill", file="x.mov")) is None


def test_only_the_files_own_folder_speaks_not_the_ones_above() -> None:
    assert told(in_bin("x", file="music/2024/x.wav")) is None
    assert told(in_bin("x", file="2024/music/x.wav")) is Element.MUSIC


def test_a_pin_matches_a_whole_name_in_any_case() -> None:
    assert told(in_bin("TOBIAS_01"), '[pins]\n"tobias*" = "interview"\n') is Element.INTERVIEW
    assert told(in_bin("old TOBIAS_01"), '[pins]\n"tobias*" = "interview"\n') is None


def test_a_guess_counts_only_where_no_name_tells() -> None:
    film = timeline(bin_clips=[in_bin("x"), in_bin("music")])
    found = find_elements(film, WORDS, {"/rushes/x": GUESS, "/rushes/music": GUESS})
    assert found.sources["/rushes/x"] is GUESS
    assert found.of_source("/rushes/music") is Element.MUSIC
    assert found.sources["/rushes/music"].sure


def test_a_track_is_as_sure_as_the_least_sure_of_its_clips() -> None:
    voice = track(1, "A1", row(("x", 50), ("narration.wav", 50)), sound=True)
    taken = find_elements(timeline(voice), WORDS, {"/rushes/x": GUESS}).tracks[1]
    assert (taken.element, taken.sure, taken.chance) == (Element.NARRATION, False, 0.8)


def test_a_screen_among_cutaways_stays_none() -> None:
    screen = Identification(None, "a screen", chance=0.98, judged=True)
    mixed = track(1, "V1", row(("cutaway.mov", 50), ("x", 50)))
    found = find_elements(timeline(mixed), WORDS, {"/rushes/x": screen})
    assert [found.of_clip(mixed, clip) for clip in mixed.clips()] == [Element.CUTAWAY, None]


def test_the_sound_of_a_cutaway_laid_alone_is_natural_sound_and_beside_its_picture_its_own() -> None:
    shot = Identification(Element.CUTAWAY, "by evidence", True, 0.98, also=(Element.NATURAL,), judged=True)
    picture = track(2, "V1", row(("x", 50)))
    for start, element in ((100, Element.NATURAL), (0, Element.CUTAWAY)):
        sound = track(1, "A1", row((None, start), ("x", 50)) if start else row(("x", 50)), sound=True)
        found = find_elements(timeline(sound, picture), WORDS, {"/rushes/x": shot})
        assert found.tracks[1].element is element
        assert found.serves("/rushes/x", Element.NATURAL)
        assert found.serves("/rushes/x", Element.CUTAWAY)


def test_a_recipe_tells_what_a_clip_may_serve_as_besides() -> None:
    words = parse_recipe('[also]\n"wheel CU" = "natural sound"\n').vocabulary()
    found = find_elements(timeline(bin_clips=[in_bin("wheel CU"), in_bin("wheel MS")]), words)
    assert [found.serves(f"/rushes/wheel {size}", Element.NATURAL) for size in ("CU", "MS")] == [True, False]
    assert found.of_source("/rushes/wheel CU") is Element.CUTAWAY


def test_where_some_cutaways_are_named_only_what_is_heard_and_unknown_is_asked_for() -> None:
    quiet = track(1, "V1", [replace(clip("seen.mov", 0, 50), plays_sound=False)])
    heard = track(2, "V2", row(("heard.mov", 50)))
    bare = [in_bin("heard.mov"), in_bin("seen.mov"), in_bin("unused.mov")]
    film = timeline(quiet, heard, bin_clips=bare)
    assert set(unknown_sources(film, find_elements(film, WORDS))) == {
        f"/rushes/{name}.mov" for name in ("heard", "seen", "unused")
    }
    film = timeline(quiet, heard, bin_clips=[*bare, in_bin("wheel CU")])
    assert unknown_sources(film, find_elements(film, WORDS)) == ("/rushes/heard.mov",)


@pytest.mark.parametrize(
    ("name", "element"),
    [
        ("Musik 2", Element.MUSIC),
        ("O-Töne", Element.INTERVIEW),
        ("Schnittbilder", Element.CUTAWAY),
        ("voix off_03", Element.NARRATION),
        ("Plans de coupe", Element.CUTAWAY),
        ("ENTREVISTAS", Element.INTERVIEW),
        ("planos de recurso", Element.CUTAWAY),
        ("voce narrante", Element.NARRATION),
        ("suoni ambiente", Element.NATURAL),
        ("Imagens de apoio", Element.CUTAWAY),
        ("sfeerbeelden", Element.CUTAWAY),
        ("intervjuer", Element.INTERVIEW),
        ("dækbilleder", Element.CUTAWAY),
        ("przebitki 01", Element.CUTAWAY),
        ("Перебивки", Element.CUTAWAY),
        ("музыка", Element.MUSIC),
        ("soundbites", Element.INTERVIEW),
        ("VO_3", Element.NARRATION),
    ],
)
def test_the_trades_words_are_known_in_other_languages_with_plurals_and_numbers(
    name: str, element: Element
) -> None:
    assert told(in_bin("x", name)) is element


def test_no_word_of_the_trade_means_two_elements() -> None:
    words = [(word, element) for element in Element for word in trade_words(element)]
    assert len(dict(words)) == len(words)
    assert len(TRADE_WORDS) >= 10


def test_every_verdict_has_its_reason() -> None:
    found = find_elements(timeline(track(1, "Music"), bin_clips=[in_bin("x", "B-Roll")]), WORDS)
    assert found.sources["/rushes/x"].why == "bin folder says 'b-roll'"
    assert found.tracks[1].why == "track name says 'music'"


def test_a_track_is_what_its_name_says_whatever_lies_on_it() -> None:
    music = track(1, "Music", row(("interview.mov", 50)))
    found = find_elements(timeline(music), WORDS)
    assert [found.of_clip(music, clip) for clip in music.clips()] == [Element.MUSIC]


def test_a_track_without_a_name_is_what_all_its_known_clips_are() -> None:
    plain = track(1, "V1", row(("interview.mov", 50), ("mystery.mov", 50)))
    found = find_elements(timeline(plain), WORDS)
    assert [found.of_clip(plain, clip) for clip in plain.clips()] == [Element.INTERVIEW] * 2


def test_on_a_mixed_track_each_clip_speaks_for_itself() -> None:
    mixed = track(1, "V1", row(("interview.mov", 50), ("cutaway.mov", 50), ("mystery.mov", 50)))
    found = find_elements(timeline(mixed), WORDS)
    kinds = [found.of_clip(mixed, clip) for clip in mixed.clips()]
    assert kinds == [Element.INTERVIEW, Element.CUTAWAY, None]
    assert unknown_sources(timeline(mixed), found) == ("/rushes/mystery.mov",)


def test_clips_of_an_element_come_in_order_of_time() -> None:
    film = timeline(
        track(1, "Music", row((None, 100), ("late.wav", 50)), sound=True),
        track(2, "Music", row(("early.wav", 50)), sound=True),
        track(3, "Music", row(("silent.wav", 50)), sound=True, muted=True),
    )
    found = clips_of(film, find_elements(film, WORDS), (Element.MUSIC,))
    assert [(t.index, c.start) for t, c in found] == [(2, 0), (1, 100)]


@pytest.mark.parametrize(
    ("name", "tags", "size"),
    [
        ("Wheel CU", (), "CU"),
        ("wheel_ECU2.mov", (), "ECU"),
        ("Wheel", ("WS",), "WS"),
        ("Wheel CU", ("WS",), "WS"),
        ("Cut wheel", (), ""),
        ("ms wheel", (), ""),
    ],
)
def test_the_picture_size_stands_in_tags_or_name_in_capitals(
    name: str, tags: tuple[str, ...], size: str
) -> None:
    assert size_of(in_bin(name, "", tags)) == size


def test_subjects_are_tags_else_folder_and_words() -> None:
    assert subjects_of(in_bin("A001", "Cutaways/Mill", ("Wheel", "CU", "wheel"))) == ("wheel",)
    assert subjects_of(in_bin("Big wheel_CU 03", "Cutaways/Mill")) == ("mill", "big", "wheel")
    assert subjects_of(in_bin("Big wheel", "Cutaways")) == ("big", "wheel")
